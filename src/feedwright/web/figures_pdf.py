"""The figures of a period as PDF: the page's tables and charts on paper."""

from collections.abc import Iterator, Sequence
from typing import Any

from feedwright.farm.figures.figures import FarmFigures
from feedwright.farm.ground.paper import MARGIN_MM, POINTS_PER_MM, Told, book, heading, paper_mm, rows, said
from feedwright.planning.keeping import CostLine, MachineLine
from feedwright.units import show_rounded
from feedwright.wear.values import Interval
from feedwright.web import charts
from feedwright.web.chart_pictures import drawn


def figures_pdf(made: FarmFigures, farm_name: str, *, paper: str = "a4", told: Told | None = None) -> bytes:
    """The document on A4 or letter; refuses another paper."""
    across = (paper_mm(paper)[0] - 2 * MARGIN_MM) * POINTS_PER_MM
    title = f"Figures, {made.period.since} to {made.period.until}"
    return book(list(_story(made, farm_name, title, across)), paper=paper, title=title, foot=farm_name, told=told)


def _story(made: FarmFigures, farm_name: str, title: str, across: float) -> Iterator[Any]:
    whole, total, money = made.whole, made.total, made.currency
    yield said(title, "title")
    yield said(f"{farm_name}. Bands hold nine times in ten.", "lead")
    yield rows((), [
        ("Keeping cost in all", f"{total.cost:,.2f} {money}"),
        (f"For each printing hour, {money}", _band(total.cost_per_h)),
        (f"For each kg printed, {money}", _band(total.cost_per_kg)),
        ("Prints spoiled", _share(whole.spoiled_frac)),
        ("Hours between failures", _band(whole.time_between_h)),
        ("Availability", _share(whole.availability_frac)),
        ("Printed", f"{whole.printed.busy_h:,.0f} h, {whole.printed.filament_kg:,.1f} kg, {whole.printed.runs:,} runs"),
    ], (0.4, 0.6))  # fmt: skip
    if made.costs["cause"]:
        yield heading("What went wrong most", "chapter")
        yield drawn(charts.costliest_causes(made.costs["cause"], money), across)
        yield _costs("Cause", made.costs["cause"], money)
    yield heading("What keeping cost", "chapter")
    yield _costs("Machine", made.costs["machine"], money)
    yield _costs("Part", made.costs["part"], money)
    yield heading("How machines served", "chapter")
    failures = charts.failures_by_machine(made.machines)
    if failures["data"]["values"]:
        yield drawn(failures, across)
    yield rows(
        ("Machine", "Failures", "Hours between", "Prints spoiled", "Availability"),
        [_served(line) for line in made.machines], (0.24, 0.12, 0.24, 0.2, 0.2),
    )  # fmt: skip
    yield heading("How this is reckoned", "entry")
    yield from (said(text) for text in made.how)


def _costs(name: str, lines: Sequence[CostLine], money: str) -> Any:
    head = (name, f"Cost, {money}", "Times", "for each hour", "for each kg")
    told = [
        (line.name, f"{line.cost:,.2f}", str(line.incidents), _band(line.cost_per_h), _band(line.cost_per_kg))
        for line in lines
    ]
    return rows(head, told, (0.32, 0.14, 0.1, 0.22, 0.22))


def _served(line: MachineLine) -> tuple[str, ...]:
    return (
        line.name, str(line.failures), _band(line.time_between_h), _share(line.spoiled_frac),
        _share(line.availability_frac),
    )  # fmt: skip


def _band(band: Interval | None) -> str:
    if band is None:
        return "–"
    return f"{show_rounded(band.mid)} ({show_rounded(band.low)} to {show_rounded(band.high)})"


def _share(band: Interval | None) -> str:
    if band is None:
        return "–"
    return f"{100 * band.mid:.3g} % ({100 * band.low:.3g} to {100 * band.high:.3g})"
