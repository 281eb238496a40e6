"""The bench list: what to service now, on which machine, in order of what waiting costs."""

import math
from datetime import datetime

from feedwright.farm.ground.values import Bench, FittedPart
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.records.store import Store


def bench(store: Store, now_utc: datetime, *, machine: str | None = None) -> Bench:
    """The bench list of the farm, or of one machine."""
    machines = None if machine is None else [machine_named(store, machine)]
    parts = fitted_parts(store, now_utc, machines=machines)
    by_date = sorted(parts, key=lambda part: (part.advice.best_in_days, -part.outlook.failure_frac_month))
    return Bench(
        at_utc=now_utc,
        now=tuple(sorted((part for part in parts if part.advice.status == "service now"), key=_dearest_first)),
        soon=tuple(part for part in by_date if part.advice.status == "service soon"),
        later=tuple(part for part in by_date if part.advice.status == "in order" and _dated(part)),
        watch=tuple(part for part in by_date if part.advice.status == "in order" and not _dated(part)),
        machines=len({part.machine.id for part in parts}),
        runs=store.runs_count(None if machines is None else machines[0].id),
    )


def _dated(part: FittedPart) -> bool:
    return math.isfinite(part.advice.best_in_days)


def _dearest_first(part: FittedPart) -> tuple[float, float]:
    return -float(part.advice.waiting_cost_week.amount), -part.outlook.share_used.mid
