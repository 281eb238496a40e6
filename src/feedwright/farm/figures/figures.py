"""The farm's figures over a period: what keeping cost, how machines served, and what went wrong most."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import reduce
from operator import add
from typing import Literal

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import NotFound
from feedwright.farm.figures.work_done import held_hours, printed_by_machine, work_of
from feedwright.farm.ground.csv_text import written
from feedwright.farm.ground.naming import nearest, one_of
from feedwright.farm.ground.periods import Period, period
from feedwright.farm.ground.settings import figures as figures_in_force
from feedwright.farm.ground.settings import zone
from feedwright.farm.outlook.kept import Kept
from feedwright.planning.keeping import CostLine, MachineLine, Printed, Work, cost_line, cost_lines, machine_line
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.wear.values import Interval

By = Literal["machine", "part", "cause"]
WAYS: tuple[By, ...] = ("machine", "part", "cause")
NO_PART = "no part at fault"
ALL = "all machines"
TABLES = ("served", *WAYS)
"""The tables that can be taken away as CSV: how machines served, and cost by each way."""


@dataclass(frozen=True, slots=True)
class FarmFigures:
    """All figures of one period; intervals hold nine times in ten, costs are in ``currency``."""

    period: Period
    currency: str
    whole: MachineLine
    """All machines together."""
    machines: tuple[MachineLine, ...]
    costs: dict[By, tuple[CostLine, ...]]
    """By cause are told only failures, spoiled prints and closed cases; by machine and part also what was planned."""
    total: CostLine
    """All that keeping cost."""
    cases_elsewhere: int
    """Closed cases on other people's machines, which cost this farm nothing."""
    how: tuple[str, ...]
    """How it is reckoned, in sentences."""
    work: tuple[Work, ...]
    """The records behind it all, oldest first."""

    @property
    def without_records(self) -> "FarmFigures":
        """The same for JSON: the records are asked for line by line."""
        return replace(self, work=())


_KEPT = Kept[FarmFigures]("figures")
"""By period."""


def farm_figures(
    store: Store, now_utc: datetime, *, since: str | None = None, until: str | None = None, days: int | None = None
) -> FarmFigures:
    """The figures of a period; kept until something is recorded, and on a page of a large farm a while longer."""
    span = period(zone(store), now_utc, since=since, until=until, days=days)

    def work_out() -> FarmFigures:
        with store.snapshot() as reads:
            return _worked_out(reads, span)

    return _KEPT.of(store, now_utc, work_out, stamp=store.latest_act_id(), asked=_all_day(span))


def figures_before(store: Store, made: FarmFigures) -> datetime | None:
    """When figures that are shown were worked out, where something was recorded since; None where they are of now."""
    return _KEPT.out_of_date(store, stamp=store.latest_act_id(), asked=_all_day(made.period))


def _all_day(span: Period) -> Period:
    """A period that is the same all day."""
    return replace(span, until_utc=span.since_utc)


def _worked_out(records: Reads, span: Period) -> FarmFigures:
    work = work_of(records, span)
    by_id, held = printed_by_machine(records, span), held_hours(records, span)
    machines = sorted(records.machines(), key=lambda machine: machine.name.casefold())
    printed = {machine.name: by_id.get(machine.id, Printed()) for machine in machines}
    whole = reduce(add, printed.values(), Printed())
    titles = {machine.id: machine.name for machine in machines}
    having: dict[str, set[str]] = {}
    for fitting in records.fittings():
        if fitting.machine_id in titles:
            title = load_catalogue().parts[fitting.part_kind].title
            having.setdefault(title, set()).add(titles[fitting.machine_id])

    def with_part(title: str) -> Printed:
        return reduce(add, (printed[name] for name in having.get(title, ())), Printed()) if title != NO_PART else whole

    trouble = [one for one in work if one.cause]
    ends = {ending.case_id for ending in records.case_endings() if ending.cause}
    return FarmFigures(
        span, figures_in_force(records).currency,
        machine_line(ALL, work, whole, sum(held.values())),
        tuple(
            machine_line(
                machine.name, [one for one in work if one.machine == machine.name], printed[machine.name],
                held.get(machine.id, 0.0),
            )
            for machine in machines
        ),
        {
            "machine": cost_lines(work, _name_of("machine"), lambda name: printed[name]),
            "part": cost_lines(work, _name_of("part"), with_part),
            "cause": cost_lines(trouble, _name_of("cause"), lambda name: whole),
        },
        cost_line(ALL, work, whole),
        sum(case.machine_id is None and case.id in ends and span.holds(case.opened_utc) for case in records.cases()),
        _how(records),
        tuple(work),
    )  # fmt: skip


def _how(records: Reads) -> tuple[str, ...]:
    """What the figures rest on, with the farm's own numbers."""
    held = figures_in_force(records)
    value = {name: number.value for name, number in held.numbers.items()}
    return (
        "Cost of keeping is parts, minutes at the bench and spoiled prints; the filament and hours of prints that came "
        "out well are none of it.",
        "Parts are priced as the stores buy them where a renewal took them from there, else by the catalogue times "
        f"{value['price_ratio']:g}. A minute is {value['labour_per_h']:g} "
        f"{held.currency} an hour for the person and {value['machine_per_h']:g} for the machine that stands still. "
        "Minutes are those on record: of a renewal, or of a visit from begin to end without its pauses, shared among "
        f"what it renewed; else the catalogue's. A look by itself counts {value['look_minutes']:g} minutes, a failure "
        f"{value['unplanned_minutes']:g} more for clearing up and finding the cause.",
        f"A spoiled print costs the hours of the spoiled copy at {value['machine_per_h']:g} {held.currency} and its "
        f"filament at {value['filament_per_kg']:g} {held.currency} a kg.",
        "A failure is a part renewed because it failed, or a jam or slip on record. What happened to a machine between "
        "the begin of one run and the next counts once. Its cause is that of a case closed on it, else the part that "
        "failed.",
        "Time between failures is printing hours over failures. Availability is printing hours over printing hours "
        "and service hours (EN 13306: up time over up time and down time, counted while the machine is wanted). Hours "
        "held run from a visit's begin to the release of the machine.",
        "Bands hold nine times in ten what the same keeping would bring over many such periods, if what happens is "
        "independent: counts by Garwood's limits, shares by Clopper and Pearson's, sums of money and minutes by Fay "
        "and Feuer's. What was spent is known without a band.",
    )


def _name_of(by: By) -> Callable[[Work], str]:
    return {
        "machine": lambda one: one.machine, "part": lambda one: one.part or NO_PART, "cause": lambda one: one.cause,
    }[by]  # fmt: skip


def behind(made: FarmFigures, by: str, name: str) -> tuple[Work, ...]:
    """The records behind one line, latest first; refuses a name that no line has."""
    way: By = one_of("by", by, WAYS)  # type: ignore[assignment]
    found = [one for one in reversed(made.work) if _name_of(way)(one) == name and (way != "cause" or one.cause)]
    if not found and name not in (line.name for line in made.machines):
        known = [line.name for line in made.costs[way]]
        raise NotFound(way, place=f"“{name:.60}”", expected="nothing on record of it in this period",
                       remedy=nearest(name, known))  # fmt: skip
    return tuple(found)


def as_csv(made: FarmFigures, table: str) -> str:
    """One table as CSV (RFC 4180), with a heading that names units and currency."""
    one_of("table", table, TABLES)
    if table == "served":
        return "".join(written(_SERVED, map(_served_row, (*made.machines, made.whole))))
    headings = [name.replace("COST", f"cost_{made.currency.lower()}") for name in (table, *_COSTS)]
    return "".join(written(headings, map(_cost_row, made.costs[table])))  # type: ignore[index]


_SERVED = (
    "machine", "printed_h", "printed_kg", "runs", "spoiled", "spoiled_frac", "spoiled_frac_low", "spoiled_frac_high",
    "failures", "time_between_h", "time_between_h_low", "time_between_h_high", "service_h", "availability_frac",
    "availability_frac_low", "availability_frac_high", "held_h",
)  # fmt: skip
_COSTS = (
    "incidents", "failures", "spoiled", "service_h", "parts_COST", "time_COST", "spoiled_COST", "COST", "share_frac",
    "cumulative_frac", "printed_h", "printed_kg", "COST_per_h", "COST_per_h_low", "COST_per_h_high", "COST_per_kg",
    "COST_per_kg_low", "COST_per_kg_high",
)  # fmt: skip


def _served_row(line: MachineLine) -> list[object]:
    printed = line.printed
    return [
        line.name, _cell(printed.busy_h), _cell(printed.filament_kg), printed.runs, printed.spoiled,
        *_cells(line.spoiled_frac), line.failures, *_cells(line.time_between_h), _cell(line.service_h),
        *_cells(line.availability_frac), _cell(line.held_h),
    ]  # fmt: skip


def _cost_row(line: CostLine) -> list[object]:
    amounts = (
        line.service_h, line.parts_cost, line.time_cost, line.spoiled_cost, line.cost, line.share_frac,
        line.cumulative_frac, line.printed.busy_h, line.printed.filament_kg,
    )  # fmt: skip
    return [
        line.name, line.incidents, line.failures, line.spoiled, *map(_cell, amounts), *_cells(line.cost_per_h),
        *_cells(line.cost_per_kg),
    ]  # fmt: skip


def _cells(band: Interval | None) -> Sequence[float | None]:
    return (None, None, None) if band is None else (_cell(band.mid), _cell(band.low), _cell(band.high))


def _cell(value: float) -> float:
    """A number to six digits: more would feign knowledge."""
    return float(f"{value:.6g}")
