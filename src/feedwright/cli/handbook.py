"""``feedwright handbook``: the handbook as PDF."""

from pathlib import Path
from typing import Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, now, out, progress
from feedwright.errors import BadInput

Paper = Annotated[str, typer.Option("--paper", help="a4 or letter.")]
PdfFile = Annotated[Path, typer.Argument(help="The PDF to write.")]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("handbook")(handbook)


def handbook(to: PdfFile, paper: Paper = "a4", as_json: AsJson = False, folder: FarmFolder = None) -> None:
    """Write the handbook as PDF.

    Every part, cause, check and procedure, with cautions and sources, and what your farm has learned.
    """
    from feedwright.farm.ground.house import farm_folder, has_farm, open_farm
    from feedwright.farm.ground.paper import paper_mm
    from feedwright.farm.handbook import handbook as chapters
    from feedwright.farm.handbook.handbook_pdf import handbook_pdf

    paper_mm(paper)
    where = farm_folder(folder)
    if has_farm(where):
        with open_farm(where) as store:
            held = chapters.handbook(store, now())
    elif folder is None:
        held = chapters.handbook(None, now())
    else:
        raise BadInput("--farm", place=str(where), expected="there is no farm in this folder", remedy="name another")
    with progress("Laying out the handbook", as_json=as_json) as bar:
        made = handbook_pdf(held, paper=paper, told=bar)
    to.write_bytes(made)
    data = {"file": str(to), "bytes": len(made), "parts": len(held.parts), "causes": len(held.causes)}
    out(data, [f"The handbook is in {to}."], as_json=as_json)
