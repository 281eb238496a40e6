"""``feedwright learn`` and ``feedwright policy``: what the findings have taught, and what ways of keeping cost."""

import os
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, farm, now, out, table

if TYPE_CHECKING:
    from feedwright.farm.figures.policy import PolicyStudy
    from feedwright.farm.outlook.lessons import KindLesson, Lessons
    from feedwright.wear.values import Interval

WIDTH = 78


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("learn")(learn)
    app.command("policy")(policy)


def learn(
    part: Annotated[str | None, typer.Argument(help="Only this part kind, with each machine.")] = None,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What findings have taught, and how forecasts fared.

    How long each part kind lasts against the rule of thumb, with the band that holds it eight times in ten; what the
    findings say of the numbers that the wear laws assume; and forecast against outcome, month by month.
    """
    from feedwright.farm.outlook.lessons import lessons

    with farm(folder) as store:
        made = lessons(store, now(), part=part)
    out(made, learn_lines(made, full=part is not None), as_json=as_json)


def learn_lines(made: "Lessons", *, full: bool) -> Iterator[str]:
    """What was learned, as lines."""
    yield "Lives learned from what was found (1 = the rule of thumb; eight in ten within the band)"
    yield ""
    rows = [
        (lesson.kind.title, str(lesson.findings), str(lesson.failures), _band(lesson.ratio), _band(lesson.shape))
        for lesson in made.kinds
    ]
    yield from table(("part", "findings", "failures", "life over rule of thumb", "shape"), rows)
    if full:
        for lesson in made.kinds:
            yield from _machine_lines(lesson)
    yield ""
    yield "Numbers that the wear laws assume"
    for number in made.numbers:
        band = f"assumed {_band(number.believed)}, by the findings {_band(number.learned)}"
        for text in (f"{number.name[0].upper()}{number.name[1:]}: {band} (nine in ten).", number.words):
            yield from textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
    if not made.numbers:
        yield "  nothing yet: no finding bears on them."
    yield ""
    yield from _fared(made)


def _machine_lines(lesson: "KindLesson") -> Iterator[str]:
    yield ""
    rows = [
        (one.machine, one.product, str(one.findings), _band(one.ratio), "unlike the others" if one.odd else "")
        for one in lesson.machines
    ]
    yield from table(("machine", "product", "findings", "life over rule of thumb", ""), rows)
    odd = sorted({f"{raw.machine} at {raw.exposure:,.0f}" for raw in lesson.raw if raw.misread})
    if odd:
        text = "Does not fit together, look again at dates and grades: " + "; ".join(odd) + "."
        yield from textwrap.wrap(text, WIDTH)


def _fared(made: "Lessons") -> Iterator[str]:
    held = made.hindsight
    if held is None:
        yield "Forecast against outcome: too early to say; it takes two months and a half of records."
        return
    yield f"Forecast against outcome: {held.forecasts} forecasts for a month ahead, in {held.months} months"
    yield f"  failures: {held.failures}; forecast: {held.expected_failures:.0f}"
    yield (
        f"  mean squared error of the stated chances: {held.squared_error:.4f}; "
        f"rule of thumb alone {held.squared_error_rule_of_thumb:.4f}, "
        f"one chance for all {held.squared_error_constant:.4f}"
    )
    if held.coverage_frac is not None:
        yield f"  lives that ended within the band said to hold 80 %: {held.coverage_frac:.0%} of {held.ends}"
    rows = [
        (
            f"{one.said_frac:.1%}",
            f"{one.happened_frac:.1%}",
            f"{one.low_frac:.0%} to {one.high_frac:.0%}",
            str(one.count),
        )
        for one in held.bins
    ]
    yield from table(("chance said", "happened", "by chance alone", "forecasts"), rows)


def policy(
    years: Annotated[float, typer.Option("--years", help="How many years to live through.")] = 3.0,
    farms: Annotated[int, typer.Option("--farms", min=2, help="How many farms to live through.")] = 400,
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What ways of keeping the farm would cost.

    By calendar, to failure, by fixed use, as advised. Lives the farm through many times, each time with true lives
    drawn from what is believed now. All ways meet the same lives and weeks. Amounts are for one year; bands hold nine
    farms in ten.
    """
    from concurrent.futures import ThreadPoolExecutor

    from feedwright.farm.figures.policy import study

    with farm(folder) as store, ThreadPoolExecutor(os.cpu_count()) as pool:
        made = study(store, now(), years=years, farms=farms, executor=pool)
    out(made, policy_lines(made), as_json=as_json)


def policy_lines(made: "PolicyStudy") -> Iterator[str]:
    """The outcome of each policy as lines, the cheapest first."""
    yield (
        f"{made.machines} machines, {made.parts} parts, {made.years:g} years lived {made.farms} times; "
        f"amounts a year, bands hold nine in ten"
    )
    yield ""
    rows = [
        (
            one.name, _whole(one.per_year["cost"]), f"+{_whole(one.over_best)}" if one.over_best.high else "cheapest",
            f"{one.mean['spoiled prints']:.0f}", f"{one.mean['parts']:,.0f}", f"{one.mean['bench hours']:.0f}",
            f"{one.mean['downtime hours']:.0f}",
        )
        for one in made.outcomes
    ]  # fmt: skip
    headings = (
        "policy", f"cost, {made.currency}", "over the cheapest", "spoiled prints", f"parts, {made.currency}",
        "bench h", "downtime h",
    )  # fmt: skip
    yield from table(headings, rows)


def _whole(band: "Interval") -> str:
    return f"{band.mid:,.0f} ({band.low:,.0f} to {band.high:,.0f})"


def _band(band: "Interval") -> str:
    return f"{band.mid:.3g} ({band.low:.3g} to {band.high:.3g})"
