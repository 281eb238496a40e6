"""``feedwright find``: a machine, a file, a case, a record or a chapter by some words."""

from typing import Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, out, table


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("find")(find)


def find(
    words: Annotated[list[str], typer.Argument(help="Words, or a record's number; small slips do not matter.")],
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Find a machine, a file, a record or a chapter.

    Also a case, a visit, or a run by its number; small misspellings are forgiven.
    """
    from feedwright.farm.desk import search
    from feedwright.farm.ground.house import farm_folder, has_farm, open_farm

    asked, where = " ".join(words), farm_folder(folder)
    if has_farm(where):
        with open_farm(where) as store:
            known = search.candidates(store, asked)
    else:
        known = search.candidates(None, asked)
    hits = search.find(asked, known)
    rows = [(hit.found.kind, hit.found.key, hit.found.title) for hit in hits]
    lines = table(("what", "which", "title"), rows) if rows else [f"Nothing fits “{asked}”."]
    data = [{"kind": kind, "id": key, "title": title, "fit_frac": hit.fit_frac}
            for (kind, key, title), hit in zip(rows, hits, strict=True)]  # fmt: skip
    out(data, lines, as_json=as_json)
