"""``feedwright catalogue``: what the trade knows, every number with its source."""

import dataclasses
from collections.abc import Iterator
from typing import Annotated, Any

import typer

from feedwright.cli.say import AsJson, out, table

catalogue = typer.Typer(help="Part kinds, materials and builds.", no_args_is_help=True, rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(catalogue, name="catalogue")


@catalogue.command("list")
def list_(as_json: AsJson = False) -> None:
    """Every part kind, material and build."""
    from feedwright.catalogue.load import load_catalogue

    known = load_catalogue()
    groups = {"part kind": known.parts, "material": known.materials, "build": known.builds}
    rows = [(what, key, entry.title) for what, entries in groups.items() for key, entry in entries.items()]  # type: ignore[attr-defined]
    data = [{"kind": what, "id": key, "title": title} for what, key, title in rows]
    out(data, table(("kind", "id", "title"), rows), as_json=as_json)


@catalogue.command("show")
def show(entry: Annotated[str, typer.Argument(help="An id from `catalogue list`.")], as_json: AsJson = False) -> None:
    """One entry with every number it holds.

    Each number with its unit, its band of belief and where it is from.
    """
    from feedwright.catalogue.entry import PartKind
    from feedwright.catalogue.load import load_catalogue
    from feedwright.farm.ground.naming import pick_entry
    from feedwright.units import BY_SUFFIX

    known = load_catalogue()
    found = pick_entry({**known.parts, **known.materials, **known.builds}, entry, "entry")
    data = dataclasses.asdict(found)  # type: ignore[call-overload]
    own_unit = found.exposure.unit if isinstance(found, PartKind) else ""
    symbols = {
        **{suffix: unit.symbol for suffix, unit in BY_SUFFIX.items()},
        "exposure": own_unit,
        "ratio": "",
        "frac": "",
    }
    out(data, _lines(data, "", symbols), as_json=as_json)


def _lines(held: Any, path: str, symbols: dict[str, str]) -> Iterator[str]:
    """Every value of an entry as a line of path and value, numbers with their source."""
    if isinstance(held, dict) and {"value", "low", "high", "source"} <= held.keys():
        band = "" if held["low"] == held["high"] else f" ({held['low']:g} to {held['high']:g})"
        where = ", ".join(filter(None, (held["source"], held["where"], held["note"])))
        unit = symbols.get(held["unit"], held["unit"])
        yield f"{path}: {held['value']:g}{band} {unit}".rstrip() + f"   [{where}]"
    elif isinstance(held, dict):
        for name, inner in held.items():
            yield from _lines(inner, f"{path}.{name}" if path else name, symbols)
    elif isinstance(held, (list, tuple)):
        for index, inner in enumerate(held):
            name = inner["id"] if isinstance(inner, dict) and "id" in inner else str(index + 1)
            yield from _lines(inner, f"{path}.{name}", symbols)
    elif held not in ("", None):
        yield f"{path}: {held}"
