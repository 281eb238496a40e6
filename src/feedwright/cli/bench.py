"""``feedwright bench``: what to service now."""

import math
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, OnlyMachine, farm, now, out

if TYPE_CHECKING:
    from feedwright.farm.ground.values import Bench, FittedPart

WIDTH = 78


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("bench")(bench)


def bench(
    machine: OnlyMachine = None,
    full: Annotated[bool, typer.Option("--full", help="All parts, not just what is due.")] = False,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What to service now, and why.

    On which machine, in order of what waiting costs, with what drove it and what to look for; then what comes due
    next. A share of life is given with the interval that holds it eight times in ten.
    """
    from feedwright.farm.outlook.bench import bench as make_bench

    with farm(folder) as store:
        made = make_bench(store, now(), machine=machine)
    out(made, bench_lines(made, full=full), as_json=as_json)


def bench_lines(made: "Bench", *, full: bool = False) -> Iterator[str]:
    """The bench list as lines of at most 80 columns."""
    yield f"Bench list, {made.machines} machine{'' if made.machines == 1 else 's'}, {made.runs} runs on record"
    if not made.machines:
        yield "No machine yet: add one with `feedwright machine add NAME BUILD`."
        return
    yield ""
    yield f"SERVICE NOW ({len(made.now)})" if made.now else "SERVICE NOW: nothing"
    for number, part in enumerate(made.now, 1):
        yield from _in_full(number, part)
    if made.soon:
        yield ""
        yield f"SERVICE SOON ({len(made.soon)})"
        for part in made.soon:
            yield f"  {_what(part):<44} {_when(part)}"
    later = made.later if full else made.later[:8]
    if later:
        yield ""
        yield "NEXT"
        for part in later:
            yield f"  {_what(part):<44} {_when(part)}"
    unseen = len(made.later) - len(later) + len(made.watch)
    if not full and unseen:
        yield ""
        yield f"{unseen} more parts are in order: --full lists them."
    if full and made.watch:
        yield ""
        yield "IN ORDER, renewed on sight and not by age"
        for part in made.watch:
            yield f"  {_what(part):<44} used {share_words(part)}"


def _what(part: "FittedPart") -> str:
    act = part.kind.renewal.title if part.advice.act == "renew" else f"look at the {part.kind.title.lower()}"
    return f"{part.machine.name}: {act}" + (f" {part.fitting.position}" if part.fitting.position > 1 else "")


def _when(part: "FittedPart") -> str:
    if part.advice.act == "look":
        return f"{part.outlook.failure_frac_month:.0%} to fail within a month"
    days = part.advice.best_in_days
    return "no date while idle" if math.isinf(days) else f"in {max(1, round(days))} days, used {share_words(part)}"


def share_words(part: "FittedPart") -> str:
    """Share of life used with its interval."""
    used = part.outlook.share_used
    return f"{used.mid:.0%} ({used.low:.0%} to {used.high:.0%})"


def _in_full(number: int, part: "FittedPart") -> Iterator[str]:
    cost = part.advice.waiting_cost_week
    yield ""
    yield f"{number:>2}. {_what(part)}".ljust(50) + f"waiting a week costs {cost}".rjust(28)
    used = f"Life used {share_words(part)}; {part.outlook.failure_frac_week:.0%} to fail within a week."
    care = "Take care: " + " ".join(part.kind.cautions)
    look = "Look: " + " ".join(part.kind.look_for)
    for text in (used, *part.outlook.because, *part.advice.because, *([care] if part.kind.cautions else []), look):
        yield from textwrap.wrap(text, WIDTH, initial_indent="    ", subsequent_indent="      ")
