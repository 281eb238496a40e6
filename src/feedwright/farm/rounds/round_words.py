"""Why each task stands where it stands in a plan of rounds, in plain words, and what the plan comes to."""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Any

from feedwright.catalogue.procedures import load_procedures
from feedwright.farm.rounds.round_tasks import HORIZON_D, MOST_TASKS, Candidate, Given, Laid, days_ahead
from feedwright.farm.service.visit_plan import with_proofs
from feedwright.planning.rounds_cost import minutes_used
from feedwright.planning.rounds_machine import mask_of
from feedwright.planning.rounds_values import RoundsSolution
from feedwright.service.merging import HEATED
from feedwright.units import Money

NEAR_D = 3.5
"""A day this near its own best moment is that moment."""
LEAST_COST = 0.05
"""Less than this is not worth a word, in the farm's currency (assumed)."""
DAYS_NAMED = 2
SHARED = (("tram_bed", "the bed is trammed anyway"), ("calibrate_feed", "the feed rate is proved anyway"),
          ("prove_heat_up", "a heat-up is watched anyway"))  # fmt: skip
"""Work that several tasks of a visit call for, by the procedure that does it."""


class Words:
    """The words for one solved plan."""

    def __init__(self, given: Given, laid: Laid, solution: RoundsSolution) -> None:
        self._given, self._laid, self._solution = given, laid, solution
        self._currency = given.figures.currency
        self._used = minutes_used(laid.problem, solution.choices)

    def reckoning(self, against: tuple[float, float], took_s: float) -> dict[str, Any]:
        """What the plan costs, of what, its proof, and what is left out: as it is kept."""
        cost = self._solution.cost
        return {
            "currency": self._currency, "timing": cost.timing, "bench": cost.bench, "later": cost.later,
            "changes": cost.changes, "gap_frac": self._solution.gap_frac, "when_due": against[0],
            "monthly": against[1], "took_s": round(took_s, 2), "left": list(self._left()), "notes": self._notes(),
            "days": [
                {"day": day.day.isoformat(), "begins_utc": day.begins_utc.isoformat(), "minutes": day.minutes,
                 "hour_price": price, "note": day.note}
                for day, price in zip(self._laid.days, self._solution.hour_price, strict=True)
            ],
        }  # fmt: skip

    def tasks(self, at: int, day: int) -> list[dict[str, Any]]:
        """The tasks of one stop with their reasons, the most pressing first: as they are kept."""
        held = [one for one, on in zip(self._laid.candidates[at], self._solution.choices[at], strict=True) if on == day]
        held.sort(key=lambda one: (one.part.advice.status != "service now", self._early_d(one, day)))
        return [
            {
                "fitting_id": one.id, "part_kind": one.part.kind.id, "title": one.title, "procedure": one.procedure.id,
                "because": self._because(at, day, one, held), "stock": self._stock(one, day),
            }
            for one in held
        ]  # fmt: skip

    def _early_d(self, one: Candidate, day: int) -> float:
        best_d = one.part.advice.best_in_days if one.renews else 0.0
        return best_d - days_ahead(self._given, self._laid.days[day])

    def _because(self, at: int, day: int, one: Candidate, beside: Sequence[Candidate]) -> list[str]:
        said = []
        if one.wish is not None and one.wish.kind != "skip":
            verb = "moved it to" if one.wish.kind == "move" else "locked it on"
            said.append(f"You {verb} this day" + (f": {one.wish.reason}." if one.wish.reason else "."))
        advice, early_d = one.part.advice, self._early_d(one, day)
        if early_d < -NEAR_D and (one.renews or advice.status == "service now"):
            return [*said, " ".join((self._late_words(day, one), *self._why_not_sooner(at, day, one)))]
        if not one.renews:
            said.append(_look_words(one))
        elif early_d > NEAR_D:
            said.append(self._early_words(at, day, one, beside, early_d))
        elif advice.best_in_days <= 0:
            said.append(f"Due now: putting it off a week costs {advice.waiting_cost_week}.")
        else:
            said.append(f"Its own best moment comes about {self._on(advice.best_in_days)}.")
        return [*said, *self._why_not_sooner(at, day, one)]

    def _late_words(self, day: int, one: Candidate) -> str:
        """A task planned well after its own moment, and what that costs."""
        if not one.renews:
            due = _look_words(one)
        elif one.part.advice.best_in_days <= 0:
            due = "Due now."
        else:
            due = f"Its own best moment comes about {self._on(one.part.advice.best_in_days)}."
        cost = float(self._laid.timing[one.id][day])
        costs = Money.of(cost, self._currency) if cost >= LEAST_COST else "next to nothing"
        before = " There are no hours at the bench before." if day == 0 else ""
        return f"{due} Waiting for this day costs {costs}.{before}"

    def _early_words(self, at: int, day: int, one: Candidate, beside: Sequence[Candidate], early_d: float) -> str:
        cost = Money.of(float(self._laid.timing[one.id][day]), self._currency)
        own = f"{early_d:.0f} days before its own best moment, which gives away {cost} of its life"
        others = [other for other in beside if other is not one]
        saved = self._saved_minutes(at, day, one)
        if not others or saved <= 0:
            return f"Done {own}: the later days are short of hours."
        mate = max(others, key=lambda other: (len(_shared(one, other)), other.part.advice.status == "service now"))
        why = _shared(one, mate)
        since = f"since {why[0]}" if why else "since the machine is open anyway"
        return f"With “{mate.title}”, {since}: saves {saved:.0f} min; done {own}."

    def _saved_minutes(self, at: int, day: int, one: Candidate) -> float:
        """Minutes that doing a task along with the others of its stop saves against a visit of its own."""
        work, bit = self._laid.problem.machines[at], self._laid.candidates[at].index(one)
        held = mask_of(self._solution.choices[at], day)
        alone = self._alone_minutes(at, one) + self._laid.problem.stop_minutes
        return alone - float(work.minutes[held] - work.minutes[held & ~(1 << bit)])

    def _alone_minutes(self, at: int, one: Candidate) -> float:
        """Minutes of a task by itself, once its machine is turned to."""
        return float(self._laid.problem.machines[at].minutes[1 << self._laid.candidates[at].index(one)])

    def _why_not_sooner(self, at: int, day: int, one: Candidate) -> list[str]:
        """Why it does not stand on an earlier day that would be cheaper for it alone, where there are such."""
        if one.wish is not None:
            return []
        timing = self._laid.timing[one.id]
        days_of: dict[str, list[int]] = defaultdict(list)
        for number in range(day):
            if timing[day] - timing[number] >= LEAST_COST:
                days_of[self._hindrance(number, at, one)].append(number)
        if not days_of:
            return []
        return ["Not sooner: " + "; ".join(why.format(self._days(days)) for why, days in days_of.items()) + "."]

    def _hindrance(self, day: int, at: int, one: Candidate) -> str:
        """What speaks against a day for a task; the day's name comes in its braces."""
        busy = [held for held in self._given.busy if held.machine_id == self._laid.machines[at].id]
        if busy and self._laid.problem.machines[at].free_minutes[day] < self._alone_minutes(at, one):
            return "on {} the machine is not free for long enough"
        if one.supply is not None and one.supply.there_by(self._laid.days[day].begins_utc) < one.supply.pieces:
            return "on {} its part is not there yet"
        if not any(day in choice for choice in self._solution.choices):
            return "on {} no round is made, as one more would cost more than it saves"
        if not self._room(day, at, one):
            return "on {} the hours are full"
        return "on {} the plan would cost more in all"

    def _days(self, numbers: Sequence[int]) -> str:
        """'Mon 01 Jun, Wed 03 Jun and 4 days more'; all of them by name where they are few."""
        named = [self._day(number) for number in numbers[:DAYS_NAMED]]
        more = len(numbers) - len(named)
        if more:
            return f"{', '.join(named)} and {more} {'day' if more == 1 else 'days'} more"
        return _listed(named)

    def _left(self) -> list[dict[str, Any]]:
        return [
            {"fitting_id": one.id, "machine_id": machine.id, "part_kind": one.part.kind.id, "title": one.title,
             "because": self._left_because(at, one), "due": one.part.advice.status == "service now"}
            for at, machine in enumerate(self._laid.machines)
            for one, on in zip(self._laid.candidates[at], self._solution.choices[at], strict=True)
            if on < 0
        ]  # fmt: skip

    def _left_because(self, at: int, one: Candidate) -> str:
        if one.wish is not None and one.wish.kind == "skip":
            return f"You left it out until {one.wish.day}: {one.wish.reason}."
        best_d = one.part.advice.best_in_days
        if one.part.advice.status == "service now":
            cost = Money.of(float(self._laid.timing[one.id][-1]), self._currency)
            return f"Left though due now: waiting these four weeks costs {cost}. {self._hindered(at, one)}"
        if one.renews and best_d > HORIZON_D:
            return f"Its own best moment comes about {self._on(best_d)}; to do it along sooner would not pay."
        return self._hindered(at, one)

    def _hindered(self, at: int, one: Candidate) -> str:
        """Why a task that might be worth it stands on no day."""
        task = self._laid.problem.machines[at].tasks[self._laid.candidates[at].index(one)]
        if not any(math.isfinite(cost) for cost in task.cost):
            return "It cannot be done on any round day."
        if one.supply is not None and one.supply.there_by(self._laid.days[-1].begins_utc) < one.supply.pieces:
            return f"Its part ({one.supply.item.name}) is not there within the plan: order it."
        return self._crowded_out(at, one)

    def _room(self, day: int, at: int, one: Candidate) -> bool:
        """True where the hours of a day still hold the task, on a stop of its own."""
        alone = self._alone_minutes(at, one) + self._laid.problem.stop_minutes
        opening = 0.0 if self._used[day] else self._laid.problem.round_minutes
        return self._used[day] + opening + alone <= self._laid.problem.hours_minutes[day]

    def _crowded_out(self, at: int, one: Candidate) -> str:
        free = self._laid.problem.machines[at].free_minutes
        if not any(free):
            return "The machine is busy on every round day."
        if not any(minutes > 0 and self._room(day, at, one) for day, minutes in enumerate(free)):
            return "The hours do not suffice: others lose more by waiting."
        return "Its visit would cost more than it averts within the plan."

    def _stock(self, one: Candidate, day: int) -> str:
        if not one.renews or not one.part.kind.renewal.parts:
            return ""
        if one.supply is None:
            return "not kept in the stores: taken as on hand"
        supply, at_utc = one.supply, self._laid.days[day].begins_utc
        if supply.on_hand >= supply.pieces:
            return f"{supply.item.name}: {supply.on_hand} on hand"
        if supply.there_by(at_utc) >= supply.pieces:
            return f"{supply.item.name}: ordered, there by then"
        return f"{supply.item.name}: not on hand"

    def _notes(self) -> list[str]:
        notes = []
        if any("assumed" in day.note for day in self._laid.days):
            notes.append("The hours are assumed: Monday, Wednesday and Friday, two hours from 9. Say your own.")
        if self._laid.crowded:
            notes.append(
                f"Of the tasks of {_listed(self._laid.crowded)} only the {MOST_TASKS} with most to gain were weighed; "
                "the rest wait for a later plan."
            )
        over = [
            self._day(number) for number, (hours, day) in
            enumerate(zip(self._laid.problem.hours_minutes, self._laid.days, strict=True)) if hours > day.minutes + 0.5
        ]  # fmt: skip
        if over:
            notes.append(f"What you asked for takes longer than the hours of {', '.join(over)}.")
        if not self._laid.days:
            notes.append("There is no day with hours within four weeks.")
        return notes

    def _day(self, number: int) -> str:
        return f"{self._laid.days[number].day:%a %d %b}"

    def _on(self, days: float) -> str:
        return f"{(self._given.now_utc + timedelta(days=min(days, 3650.0))).astimezone(self._given.zone):%d %b %Y}"


def _look_words(one: Candidate) -> str:
    return f"A look pays: {one.part.outlook.failure_frac_month:.0%} to fail within a month."


def _listed(names: Iterable[str]) -> str:
    """'one', 'one and another', 'one, another and a third'."""
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _shared(one: Candidate, other: Candidate) -> list[str]:
    """The work that two tasks share, in words."""
    own, theirs = ({held.id for held in with_proofs([each.procedure])} for each in (one, other))
    words = [why for procedure, why in SHARED if procedure in own & theirs]
    if _heats(own) and _heats(theirs):
        words.append("the nozzle is heated anyway")
    return words


def _heats(ids: set[str]) -> bool:
    procedures = load_procedures().procedures
    return any(step.state in HEATED for key in ids for step in procedures[key].steps)
