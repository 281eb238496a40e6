"""``feedwright outlook``: what is expected of one machine's parts, and of the prints planned on it."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, farm, now, out, table
from feedwright.errors import BadInput

if TYPE_CHECKING:
    from feedwright.farm.dispatch.prints_ahead import PrintsAhead
    from feedwright.farm.ground.values import FittedPart


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("outlook")(outlook)


def outlook(
    machine: Annotated[str, typer.Argument(help="The machine.", show_default=False)],
    toolpaths: Annotated[list[str] | None, typer.Argument(help="Known toolpaths planned on it, in any order.")] = None,
    *,
    material: Annotated[str | None, typer.Option("--material", help="Material they are printed of.")] = None,
    copies: Annotated[int, typer.Option("--copies", min=1, help="How often each of them.")] = 1,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """Each part's chance to fail, soon or in planned prints.

    Within a day, a week and a month. Names of known toolpaths after the machine are the prints planned on it; they
    need --material.
    """
    from feedwright.farm.dispatch.prints_ahead import prints_ahead
    from feedwright.farm.machines.machines import machine_named
    from feedwright.farm.outlook.forecasts import fitted_parts

    with farm(folder) as store:
        if not toolpaths:
            parts = fitted_parts(store, now(), machines=[machine_named(store, machine)])
            parts.sort(key=lambda part: -part.outlook.failure_frac_month)
            out(parts, outlook_lines(parts), as_json=as_json)
            return
        if material is None:
            raise BadInput(
                "--material", expected="what is it printed of?", remedy="give a material such as --material pla"
            )
        ahead = prints_ahead(store, machine, toolpaths, now(), material=material, copies=copies)
    out(ahead, ahead_lines(ahead), as_json=as_json)


def outlook_lines(parts: "list[FittedPart]") -> Iterator[str]:
    """Each part's chances, and what is left, as a table."""
    rows = [(part.title, *_chances(part), _left(part)) for part in parts]
    yield from table(("part", "day", "week", "month", "left, days (80 %)"), rows)


def ahead_lines(ahead: "PrintsAhead") -> Iterator[str]:
    """What the planned prints would do, as lines."""
    yield f"{', '.join(ahead.prints)} on {ahead.machine.name}: {ahead.hours:.1f} h"
    yield f"A part fails within that: {ahead.failure_frac:.1%}; it spoils a print: {ahead.spoiled_frac:.1%}."
    yield ""
    rows = [(one.part.title, f"{one.failure_frac:.2%}", *_chances(one.part)) for one in ahead.parts]
    yield from table(("part", "in these prints", "day", "week", "month"), rows)


def _chances(part: "FittedPart") -> tuple[str, str, str]:
    seen = part.outlook
    return f"{seen.failure_frac_day:.1%}", f"{seen.failure_frac_week:.1%}", f"{seen.failure_frac_month:.0%}"


def _left(part: "FittedPart") -> str:
    days = part.outlook.remaining_days
    if days.mid == float("inf"):
        return "at rest"
    high = "no end" if days.high == float("inf") else f"{days.high:.0f}"
    return f"{days.mid:.0f} ({days.low:.0f} to {high})"
