"""Why a print is proposed for a machine, what would be next best, and what servicing first would change, in words."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from feedwright.catalogue.load import load_catalogue
from feedwright.farm.dispatch.finishing import FinishingPart, finish_band
from feedwright.farm.dispatch.stations import Bay, Job, Yard
from feedwright.planning.dispatch import OtherChoice, Reckoning, Turn
from feedwright.units import Money, show_duration
from feedwright.wear.values import Interval

WORTH_SAYING_FRAC = 0.02
"""A service that brings less is not worth a word (assumed)."""
WEAK_FRAC = 0.005
"""Nor is a part that is less likely to spoil the print."""


@dataclass(frozen=True, slots=True)
class OtherMachine:
    """The machine that would be next best for a print, all else as planned."""

    machine: str
    finish_frac: float
    begins_h: float
    extra_cost: Money
    words: str


@dataclass(frozen=True, slots=True)
class Serviced:
    """What a service before the print would change."""

    machine: str
    part: str
    renewal: str
    """'trim the tube end'."""
    finish_frac: float
    """The chance to finish as the machine stands ..."""
    serviced_frac: float
    """... and after the service."""
    words: str


@dataclass(frozen=True, slots=True)
class Given:
    """Copies given to a machine one after the other, and what each part has been asked for before them."""

    bay: Bay
    job: int
    copies: int
    before: tuple[int, ...]
    """Prints planned there before them, a copy each."""

    def so_far(self, part: FinishingPart) -> float:
        """Exposure of a part by what is planned before."""
        return sum(float(self.bay.asked[part.fitting.id][one]) for one in self.before)

    def asks(self, part: FinishingPart) -> float:
        """Exposure of a part by these copies."""
        return float(self.bay.asked[part.fitting.id][self.job]) * self.copies

    def lasting(self, part: FinishingPart) -> float:
        """Chance that a part does not spoil any of them."""
        return part.lasts(self.so_far(part), self.asks(part))

    @property
    def weakest(self) -> FinishingPart | None:
        """The part that is likeliest to spoil one."""
        return min(self.bay.parts, key=self.lasting, default=None)

    @property
    def finish_frac(self) -> float:
        """Chance that all of them finish."""
        return math.prod(self.lasting(part) for part in self.bay.parts)

    def band(self) -> Interval:
        """That chance with its band."""
        so_far = {part.fitting.id: self.so_far(part) for part in self.bay.parts}
        asked = {part.fitting.id: self.asks(part) for part in self.bay.parts}
        return finish_band(self.bay.parts, so_far, asked, self.finish_frac)


def reasons(given: Given, yard: Yard, reckoning: Reckoning, turns: Sequence[Turn], job: Job) -> tuple[str, ...]:
    """Sentences: why this machine, and what speaks against it."""
    first, line = turns[0], job.line
    said = []
    if line.placed is not None:
        note = line.placement.note if line.placement else ""
        said.append(f"You put it on {line.placed.name}" + (f": {note}." if note else "."))
    else:
        said.append(_among_the_likely(yard, reckoning, first))
    said.append(_when(given.bay, first))
    if math.isfinite(job.asked.due_h):
        said.append(_due(turns[-1].ends_h, job.asked.due_h))
    said.append(_material(given.bay, first, job))
    weakest = given.weakest
    if weakest is not None and 1 - given.lasting(weakest) >= WEAK_FRAC:
        risk = 1 - given.lasting(weakest)
        said.append(f"Its {weakest.title.lower()} is the likeliest to spoil it: {risk:.1%} within this printing.")
    return tuple(said)


def _among_the_likely(yard: Yard, reckoning: Reckoning, turn: Turn) -> str:
    """How many others are as likely to finish it, standing as they are."""
    one = turn.asked
    own = float(reckoning.finish(turn.station)[one])
    able = [at for at, bay in enumerate(yard.bays) if bay.station.may[one] and at != turn.station]
    if not able:
        return "It is the only machine that can take it."
    likelier = [at for at in able if float(reckoning.finish(at)[one]) > own + 1e-3]
    if not likelier:
        return f"None of the {len(able) + 1} machines that can take it is likelier to finish it."
    others = "is" if len(likelier) == 1 else "are"
    return (
        f"{len(likelier)} of the {len(able) + 1} machines that can take it {others} likelier to finish it; counting "
        "waiting, lateness and what else is to be printed, this one costs least."
    )


def _when(bay: Bay, turn: Turn) -> str:
    if turn.begins_h <= 0.0 and bay.busy is None:
        return "It is free now."
    begins = f"It begins in {show_duration(turn.begins_h * 3600)}"
    if any(begins_h < turn.begins_h for begins_h, _ in bay.station.shut):
        return f"{begins}, after the visit that is planned for the machine."
    if bay.busy is not None and bay.busy.ends_utc is None:
        return f"{begins}, when the print on it should be done: nobody said how long it takes."
    return f"{begins}, when the machine has done what is before it."


def _due(ends_h: float, due_h: float) -> str:
    if ends_h <= due_h:
        return f"It would end {show_duration((due_h - ends_h) * 3600)} before it is due."
    return f"It would end {show_duration((ends_h - due_h) * 3600)} after it is due."


def _material(bay: Bay, turn: Turn, job: Job) -> str:
    titles = {key: material.title for key, material in load_catalogue().materials.items()}
    wanted = titles[job.asked.material]
    if turn.change:
        return f"The material must be changed to {wanted}."
    known = bay.station.material
    return f"{wanted} is in it then." if known else f"What is in it is not on record; it needs {wanted}."


def other_machine(yard: Yard, choice: OtherChoice | None, currency: str) -> OtherMachine | None:
    """The next best machine in words."""
    if choice is None:
        return None
    name, turn = yard.bays[choice.turn.station].machine.name, choice.turn
    extra = Money.of(max(0.0, choice.extra_cost), currency)
    begins = "now" if turn.begins_h <= 0 else f"{show_duration(turn.begins_h * 3600)} from now"
    words = (
        f"Next best for a copy: {name}, {turn.finish_frac:.1%} to finish, beginning {begins}; it costs {extra} more."
    )
    return OtherMachine(name, turn.finish_frac, turn.begins_h, extra, words)


def serviced(given: Given) -> Serviced | None:
    """What renewing the part that is likeliest to spoil it would change; None where that is next to nothing."""
    part = given.weakest
    if part is None:
        return None
    now = given.finish_frac
    then = now / max(given.lasting(part), 1e-12) * part.lasts_when_new(given.so_far(part), given.asks(part))
    if then - now < WORTH_SAYING_FRAC:
        return None
    name, renewal = given.bay.machine.name, part.kind.renewal.title
    words = f"Serviced first ({renewal}), {name} would finish it with {then:.0%} instead of {now:.0%}."
    return Serviced(name, part.title, renewal, now, then, words)
