"""Everything on record as CSV, a row at a time: lists that can be taken in again, forecasts, and the plain tables."""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.exchange.csv_columns import KINDS
from feedwright.farm.ground.csv_text import written
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick
from feedwright.farm.machines.describing import motion_with
from feedwright.farm.outlook.bench import bench
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.parts.part_words import parts_in_words
from feedwright.farm.stores.stock import stocks
from feedwright.records.reads import Reads
from feedwright.records.store import Store
from feedwright.records.stores_values import Item, ItemTerms
from feedwright.records.table_rows import TABLES, columns_of, every_row
from feedwright.records.values import Finding, Fitting, Machine, Removal, Run, Toolpath
from feedwright.toolpath.values import MotionLimits

Rows = Iterator[Sequence[object]]


@dataclass(frozen=True, slots=True)
class CsvList:
    """One list that can be had as CSV."""

    name: str
    title: str
    can_come_in: bool
    """True where the same file can be taken in again."""


def lists() -> list[CsvList]:
    """Everything that can be had, the lists that can be taken in first."""
    own = [CsvList(kind.name, kind.title, can_come_in=True) for kind in KINDS.values()]
    forecasts = [CsvList("bench", "Bench list", can_come_in=False), CsvList("outlooks", "Outlooks", can_come_in=False)]
    tables = [CsvList(f"table_{name}", f"Table: {name.replace('_', ' ')}", can_come_in=False) for name in TABLES]
    return [*own, *forecasts, *tables]


def csv_lines(store: Store, name: str) -> Iterator[str]:
    """The lines of one list, made as they are asked for."""
    pick({held.name: held for held in lists()}, name, "list")
    if name.startswith("table_"):
        table = name.removeprefix("table_")
        return written(columns_of(table), (list(row.values()) for row in every_row(store, table)))
    headings, rows = MADE[name](store)
    return written(headings, rows)


def _machines(store: Store) -> tuple[Sequence[str], Rows]:
    return _headings("machines"), (_machine_row(store, machine) for machine in store.machines())


def _headings(kind: str, *more: str) -> list[str]:
    return [*(column.name for column in KINDS[kind].columns), *more]


def _machine_row(store: Store, machine: Machine) -> Sequence[object]:
    build = load_catalogue().builds[machine.build]
    first = [one for one in store.fittings(machine.id) if one.fitted_utc == machine.registered_utc]
    histories = {one.history for one in first}
    motion = _motion_changes(machine)
    history = histories.pop() if len(histories) == 1 else "unknown"
    return (
        machine.name, machine.build, machine.registered_utc, "unknown" if history == "used" else history, None,
        parts_in_words(first), *machine.box_mm,
        None if machine.tube_needed_mm == build.tube_needed_mm else machine.tube_needed_mm,
        None if machine.enclosure_c == build.enclosure_c else machine.enclosure_c,
        json.dumps(motion) if motion else "", machine.note,
    )  # fmt: skip


def _motion_changes(machine: Machine) -> dict[str, object]:
    """Its motion limits that are not those of its build."""
    usual = asdict(motion_with(MotionLimits(), load_catalogue().builds[machine.build].motion))
    return {name: value for name, value in asdict(machine.motion).items() if value != usual[name]}


def _runs(store: Store) -> tuple[Sequence[str], Rows]:
    toolpaths = {one.id: one for one in store.toolpaths()}

    def rows() -> Rows:
        for machine in store.machines():
            for run, stretch in store.charged_runs(machine.id):
                known = toolpaths.get(run.toolpath_id or 0)
                charged = (stretch.duration_s / 3600, stretch.filament_net_mm / 1000)
                yield (*_run_cells(machine, run, known), known.name if known else "", *charged, run.id)

    return _headings("runs", "toolpath_name", "charged_hours", "charged_filament_m", "run"), rows()


def _run_cells(machine: Machine, run: Run, known: Toolpath | None) -> Sequence[object]:
    return (
        machine.name, run.started_utc, run.material, known.sha256 if known else "", run.hours, run.filament_g,
        run.outcome, run.fraction, run.copies, run.nozzle_c, run.note,
    )  # fmt: skip


def _renewals(store: Store) -> tuple[Sequence[str], Rows]:
    machines, fittings = _by_number(store)
    removals = sorted(store.removals(), key=lambda one: (one.removed_utc, one.id))
    with_tube = {
        (one.act_id, one.removed_utc) for one in removals if fittings[one.fitting_id].part_kind == "guide_tube"
    }
    graded = {(one.act_id, one.fitting_id): one.grade for one in store.findings()}

    def rows() -> Rows:
        for one in removals:
            old, new = fittings[one.fitting_id], fittings.get(one.replaced_by or 0)
            if new is None or _went_along(old, one, with_tube):
                continue  # its renewal brings it back when the file is taken in
            length_mm = new.length_mm if new.length_mm != old.length_mm else None
            yield (
                machines[old.machine_id].name, old.part_kind, old.position, one.removed_utc, one.reason, new.product,
                graded.get((one.act_id, old.id), ""), one.trimmed_mm, length_mm, one.minutes, one.note, one.id,
            )  # fmt: skip

    return _headings("renewals", "renewal"), rows()


def _went_along(old: Fitting, removal: Removal, with_tube: set[tuple[int, datetime]]) -> bool:
    return old.part_kind == "tube_end" and (removal.act_id, removal.removed_utc) in with_tube


def _findings(store: Store) -> tuple[Sequence[str], Rows]:
    machines, fittings = _by_number(store)
    renewed = {(one.act_id, one.fitting_id) for one in store.removals()}

    def rows() -> Rows:
        for one in store.findings():
            if (one.act_id, one.fitting_id) not in renewed:  # else it stands in its renewal's row
                yield (*_finding_cells(machines, fittings[one.fitting_id], one), one.id)

    return _headings("findings", "finding"), rows()


def _finding_cells(machines: dict[int, Machine], fitting: Fitting, found: Finding) -> Sequence[object]:
    return (
        machines[fitting.machine_id].name, fitting.part_kind, fitting.position, found.found_utc, found.grade,
        found.reading, found.reading_unit, found.note,
    )  # fmt: skip


def _events(store: Store) -> tuple[Sequence[str], Rows]:
    machines = {one.id: one.name for one in store.machines()}

    def rows() -> Rows:
        for one in store.events():
            what = (one.kind, one.at_utc, one.nozzle_c, one.minutes, one.material, one.note)
            yield (machines[one.machine_id], *what, one.id)

    return _headings("events", "event"), rows()


def _by_number(records: Reads) -> tuple[dict[int, Machine], dict[int, Fitting]]:
    return {one.id: one for one in records.machines()}, {one.id: one for one in records.fittings()}


def _stores(store: Store) -> tuple[Sequence[str], Rows]:
    held = stocks(store)
    said: dict[int, ItemTerms] = {}
    for terms in sorted(store.every(ItemTerms), key=lambda one: (one.from_utc, one.id)):
        said[terms.item_id] = terms

    def rows() -> Rows:
        for item in store.every(Item):
            terms = said[item.id]
            fits = "; ".join(f"{part}:{product}:{pieces}" for part, product, pieces in json.loads(item.fits))
            yield (
                item.name, fits, held[item.id].on_hand, terms.pack_count, _price(terms.pack_price),
                _price(terms.delivery_price), terms.lead_days, terms.supplier, item.note,
            )  # fmt: skip

    return _headings("stores"), rows()


def _price(price: object) -> float | None:
    return None if price is None else float(str(price))


def _bench(store: Store) -> tuple[Sequence[str], Rows]:
    made = bench(store, moment(None))
    headings = (
        "machine", "part", "position", "status", "act", "waiting_cost_week", "currency", "best_in_days",
        "share_low_frac", "share_mid_frac", "share_high_frac", "failure_frac_week", "failure_frac_month", "because",
    )  # fmt: skip

    def rows() -> Rows:
        for part in (*made.now, *made.soon, *made.later, *made.watch):
            cost, share = part.advice.waiting_cost_week, part.outlook.share_used
            yield (
                part.machine.name, part.fitting.part_kind, part.fitting.position, part.advice.status, part.advice.act,
                float(cost.amount), cost.currency, part.advice.best_in_days, share.low, share.mid, share.high,
                part.outlook.failure_frac_week, part.outlook.failure_frac_month, " ".join(part.advice.because),
            )  # fmt: skip

    return headings, rows()


def _outlooks(store: Store) -> tuple[Sequence[str], Rows]:
    headings = (
        "machine", "part", "position", "product", "fitted", "exposure_low", "exposure_mid", "exposure_high", "unit",
        "exposure_per_day", "life_low", "life_mid", "life_high", "life_source", "share_low_frac", "share_mid_frac",
        "share_high_frac", "failure_frac_week", "failure_frac_month", "because",
    )  # fmt: skip

    def rows() -> Rows:
        for part in fitted_parts(store, moment(None)):
            look, share, life, gone = part.outlook, part.outlook.share_used, part.outlook.life, part.outlook.exposure
            yield (
                part.machine.name, part.fitting.part_kind, part.fitting.position, part.fitting.product,
                part.fitting.fitted_utc, gone.low, gone.mid, gone.high, look.unit, part.pace.exposure_per_day, life.low,
                life.mid, life.high, look.life_source, share.low, share.mid, share.high, look.failure_frac_week,
                look.failure_frac_month, " ".join(look.because),
            )  # fmt: skip

    return headings, rows()


MADE: dict[str, Callable[[Store], tuple[Sequence[str], Rows]]] = {
    "machines": _machines,
    "runs": _runs,
    "renewals": _renewals,
    "findings": _findings,
    "events": _events,
    "stores": _stores,
    "bench": _bench,
    "outlooks": _outlooks,
}
