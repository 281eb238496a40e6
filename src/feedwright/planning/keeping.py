"""What keeping machines took, told line by line: cost for each printing hour and kg, failures, availability.

Words are those of EN 13306: a failure ends an item's ability to do what is required of it; availability is the share
of time in which it is able to, here of the hours printed and served.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from feedwright.planning.intervals import expected_count, expected_sum, share, time_between
from feedwright.wear.values import Interval

NO_CAUSE = "no cause on record"


@dataclass(frozen=True, slots=True)
class Work:
    """One thing on record that took parts, bench time or a print; costs in the farm's currency."""

    at_utc: datetime
    what: str
    machine: str
    part: str
    """Title of the part kind; empty where no part is known to be at fault."""
    cause: str
    incident: str
    """What happened together and counts once: a failed part, the print it spoiled, the jam that showed it."""
    failure: bool
    spoiled: bool
    minutes: float
    parts_cost: float
    time_cost: float
    """Of the person and of the machine standing still."""
    spoiled_cost: float
    reckoned: str
    """What of it is not on record but from the farm's figures or the catalogue; empty where all is on record."""
    record: str
    """Kind and number, such as 'run 12'."""
    act_id: int

    @property
    def cost(self) -> float:
        """All of it."""
        return self.parts_cost + self.time_cost + self.spoiled_cost


@dataclass(frozen=True, slots=True)
class Printed:
    """What was printed: hours the machine was busy with it, filament used up, runs, and how many were spoiled."""

    busy_h: float = 0.0
    filament_kg: float = 0.0
    runs: int = 0
    spoiled: int = 0

    def __add__(self, other: "Printed") -> "Printed":
        return Printed(
            self.busy_h + other.busy_h, self.filament_kg + other.filament_kg, self.runs + other.runs,
            self.spoiled + other.spoiled,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class CostLine:
    """What keeping cost for one machine, part kind or cause, and for each hour and kg that was printed with it."""

    name: str
    incidents: int
    expected_incidents: Interval
    failures: int
    spoiled: int
    service_h: float
    parts_cost: float
    time_cost: float
    spoiled_cost: float
    cost: float
    share_frac: float
    """Of all that keeping cost."""
    cumulative_frac: float
    """The same with all dearer lines."""
    printed: Printed
    cost_per_h: Interval | None
    """For each printing hour; None where nothing was printed."""
    cost_per_kg: Interval | None


@dataclass(frozen=True, slots=True)
class MachineLine:
    """How one machine served, or all of them."""

    name: str
    printed: Printed
    failures: int
    time_between_h: Interval
    """Mean operating time between failures; its upper bound is infinite where none was seen."""
    spoiled_frac: Interval
    service_h: float
    availability_frac: Interval | None
    """Hours printed over hours printed and served; None where nothing was printed."""
    held_h: float
    """From the begin of each visit that holds the machine to its release."""


def cost_lines(
    work: Sequence[Work], by: Callable[[Work], str], printed: Callable[[str], Printed]
) -> tuple[CostLine, ...]:
    """One line for each name that ``by`` gives, the dearest first; ``printed`` tells what was printed with it."""
    grouped: dict[str, list[Work]] = defaultdict(list)
    for one in work:
        grouped[by(one)].append(one)
    whole, so_far = sum(one.cost for one in work) or 1.0, 0.0
    lines = []
    for line in sorted(
        (cost_line(name, held, printed(name)) for name, held in grouped.items()),
        key=lambda line: (-line.cost, line.name),
    ):
        so_far += line.cost
        lines.append(replace(line, share_frac=line.cost / whole, cumulative_frac=so_far / whole))
    return tuple(lines)


def cost_line(name: str, work: Sequence[Work], printed: Printed) -> CostLine:
    """All of this work as one line, by itself the whole of it."""
    together = summed(work, lambda one: one.cost)
    spent = expected_sum(list(together.values()))
    return CostLine(
        name, len(together), expected_count(len(together)), failures_of(work), sum(one.spoiled for one in work),
        sum(one.minutes for one in work) / 60, sum(one.parts_cost for one in work),
        sum(one.time_cost for one in work), sum(one.spoiled_cost for one in work), sum(one.cost for one in work),
        1.0, 1.0, printed, _for_each(spent, printed.busy_h), _for_each(spent, printed.filament_kg),
    )  # fmt: skip


def machine_line(name: str, work: Sequence[Work], printed: Printed, held_h: float) -> MachineLine:
    """How a machine served, from its own work."""
    failures = failures_of(work)
    return MachineLine(
        name, printed, failures, time_between(printed.busy_h, failures), share(printed.spoiled, printed.runs),
        sum(one.minutes for one in work) / 60, _availability(work, printed.busy_h), held_h,
    )  # fmt: skip


def failures_of(work: Iterable[Work]) -> int:
    """Failures, what happened together counted once."""
    return len({one.incident for one in work if one.failure})


def summed(work: Iterable[Work], of: Callable[[Work], float]) -> dict[str, float]:
    """An amount by incident."""
    total: dict[str, float] = defaultdict(float)
    for one in work:
        total[one.incident] += of(one)
    return total


def _availability(work: Sequence[Work], busy_h: float) -> Interval | None:
    """Up time over up time and down time, the band from that of the down time to be expected."""
    if busy_h <= 0:
        return None
    down = expected_sum(list(summed(work, lambda one: one.minutes / 60).values()))
    return Interval(*(busy_h / (busy_h + down_h) for down_h in (down.high, down.mid, down.low)))


def _for_each(spent: Interval, amount: float) -> Interval | None:
    return spent.times(1 / amount) if amount > 0 else None
