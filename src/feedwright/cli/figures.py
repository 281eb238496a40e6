"""``feedwright figures``: what keeping cost, how machines served, and what a blanket calendar would have cost."""

import math
import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from feedwright.cli.say import AsJson, FarmFolder, farm, now, out, progress, table
from feedwright.units import show_rounded

if TYPE_CHECKING:
    from feedwright.farm.figures.figures import FarmFigures
    from feedwright.farm.figures.savings import Savings
    from feedwright.planning.keeping import CostLine, Work
    from feedwright.wear.values import Interval

WIDTH = 100


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("figures")(figures)


def figures(
    since: Annotated[str | None, typer.Option("--since", help="First day, such as 2026-03-01.")] = None,
    until: Annotated[str | None, typer.Option("--until", help="Last day; else today.")] = None,
    days: Annotated[int | None, typer.Option("--days", help="The last so many days; else 365.")] = None,
    by: Annotated[str, typer.Option("--by", help="What cost is told by: machine, part or cause.")] = "machine",
    behind: Annotated[str | None, typer.Option("--records", help="The records behind this line.")] = None,
    saved: Annotated[bool, typer.Option("--saved", help="What was done against blanket calendars.")] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print the cost table as CSV.")] = False,
    pdf: Annotated[Path | None, typer.Option("--pdf", help="Write tables and charts as PDF to this file.")] = None,
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    as_json: AsJson = False,
    folder: FarmFolder = None,
) -> None:
    """What keeping cost, and how machines served.

    Cost for each printing hour and kg, failures and the time between them, spoiled prints, availability, over a period.
    Bands hold nine times in ten.
    """
    from feedwright.farm.figures import figures as held
    from feedwright.farm.ground.naming import one_of
    from feedwright.farm.ground.settings import farm_name

    one_of("by", by, held.WAYS)
    with farm(folder) as store:
        if saved:
            from feedwright.farm.figures.savings import savings

            compared = savings(store, now(), since=since, until=until, days=days)
            out(compared, _saved_lines(compared), as_json=as_json)
            return
        made = held.farm_figures(store, now(), since=since, until=until, days=days)
        name = farm_name(store)
    if pdf is not None:
        _write_pdf(made, name, pdf, paper, as_json=as_json)
    elif behind is not None:
        work = held.behind(made, by, behind)
        out(work, _record_lines(work, made.currency), as_json=as_json)
    elif as_csv:
        print(held.as_csv(made, by), end="")
    else:
        out(made.without_records, _lines(made, by), as_json=as_json)


def _write_pdf(made: "FarmFigures", name: str, to: Path, paper: str, *, as_json: bool) -> None:
    from feedwright.web.figures_pdf import figures_pdf

    with progress("Laying out pages", as_json=as_json) as bar:
        content = figures_pdf(made, name, paper=paper, told=bar)
    to.write_bytes(content)
    out({"file": str(to), "bytes": len(content)}, [f"The figures are in {to}."], as_json=as_json)


def _lines(made: "FarmFigures", by: str) -> Iterator[str]:
    whole, total = made.whole, made.total
    yield f"Figures, {made.period.since} to {made.period.until}"
    yield ""
    if not whole.printed.runs and not total.incidents:
        yield "Nothing is on record in this period."
        return
    yield (
        f"{whole.printed.busy_h:,.0f} printing hours, {whole.printed.filament_kg:,.1f} kg, "
        f"{whole.printed.runs:,} runs; {whole.failures} failures, {whole.service_h:,.1f} hours of service"
    )
    yield (
        f"keeping cost {total.cost:,.2f} {made.currency}; for each hour {_band(total.cost_per_h)}, "
        f"for each kg {_band(total.cost_per_kg)}"
    )
    yield (
        f"hours between failures {_band(whole.time_between_h)}; prints spoiled {_share(whole.spoiled_frac)}; "
        f"availability {_share(whole.availability_frac)}"
    )
    yield ""
    yield from _cost_table(made.costs[by], by, made.currency)  # type: ignore[index]
    if by == "machine":
        yield ""
        rows = [
            (
                line.name, f"{line.printed.busy_h:,.0f}", str(line.failures), _band(line.time_between_h),
                _share(line.spoiled_frac), f"{line.service_h:,.1f}", f"{line.held_h:,.1f}",
                _share(line.availability_frac),
            )
            for line in made.machines
        ]  # fmt: skip
        headings = (
            "machine",
            "printed h",
            "failures",
            "hours between",
            "spoiled",
            "service h",
            "held h",
            "availability",
        )
        yield from table(headings, rows)
    yield ""
    yield from textwrap.wrap("How this is reckoned: " + " ".join(made.how), WIDTH)


def _cost_table(lines: "Sequence[CostLine]", by: str, currency: str) -> Iterator[str]:
    rows = [
        (
            line.name, f"{line.cost:,.2f}", f"{line.share_frac:.0%}", f"{line.cumulative_frac:.0%}",
            str(line.incidents), str(line.failures), str(line.spoiled), _band(line.cost_per_h), _band(line.cost_per_kg),
        )
        for line in lines
    ]  # fmt: skip
    headings = (
        by, f"cost, {currency}", "share", "so far", "times", "failures", "spoiled", "for each hour", "for each kg",
    )  # fmt: skip
    yield from table(headings, rows)


def _record_lines(work: "Sequence[Work]", currency: str) -> Iterator[str]:
    rows = [
        (
            f"{one.at_utc:%Y-%m-%d %H:%M}", one.machine, one.what, one.cause, show_rounded(one.minutes),
            f"{one.cost:,.2f}", one.record, one.reckoned,
        )
        for one in work
    ]  # fmt: skip
    yield from table(
        ("UTC", "machine", "what", "cause", "minutes", f"cost, {currency}", "record", "not on record"), rows
    )


def _saved_lines(made: "Savings | None") -> Iterator[str]:
    from feedwright.farm.figures.savings import calendar_words, savings_words

    if made is None:
        yield "No part of a feed path was in use in this period, so no calendar has anything to renew."
        return
    yield f"Against blanket calendars, {made.weeks} weeks to {made.period.until}"
    for text in savings_words(made):
        yield from textwrap.wrap(text, WIDTH)
    yield ""
    done = ("as was done", str(made.done.failures), str(made.done.renewals), f"{made.done.cost:,.0f}", "")
    rows = [
        (calendar_words(one), _whole(one.failures), _whole(one.renewals), _whole(one.cost), _whole(one.saved))
        for one in made.instead
    ]
    headings = ("renewed instead", "failures", "in good time", f"cost, {made.currency}", f"saved, {made.currency}")
    yield from table(headings, [done, *rows])
    yield ""
    for text in made.how:
        yield from textwrap.wrap(text, WIDTH)


def _band(held: "Interval | None") -> str:
    if held is None:
        return "-"
    if math.isinf(held.mid):
        return f"over {show_rounded(held.low)}"
    return f"{show_rounded(held.mid)} ({show_rounded(held.low)} to {show_rounded(held.high)})"


def _share(held: "Interval | None") -> str:
    if held is None or math.isnan(held.mid):
        return "-"
    return f"{100 * held.mid:.3g}% ({100 * held.low:.3g} to {100 * held.high:.3g})"


def _whole(held: "Interval") -> str:
    return f"{held.mid:,.0f} ({held.low:,.0f} to {held.high:,.0f})"
