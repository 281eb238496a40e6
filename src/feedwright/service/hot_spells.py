"""Temperature samples to hot spells: what is kept of each time that a nozzle was hot, and the signs seen in it.

A spell lasts from the first sample that asks for heat, or is hot, until the nozzle is cold and nothing is asked for.
"""

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal

COLD_C = 50.0
"""Below it, with nothing asked for, a spell is over (assumed)."""
FAN_NEEDED_C = 60.0
"""From here on the sink fan must turn: PLA begins to soften about there (ISO 75 tables in the catalogue)."""
FAN_STILL_RPM = 100.0
"""A fan that turns slower stands for our purpose (assumed)."""
FAN_STILL_S = 20.0
"""So long it may stand before that is a sign: controllers switch it a little late (assumed)."""
REACHED_DK = 2.0
"""Within this of its target a nozzle has reached it (assumed)."""
AWAY_DK, AWAY_S = 15.0, 60.0
"""Held below its target by so much, so long, after it had reached it, a nozzle has fallen away (assumed)."""
GAP = timedelta(minutes=10)
"""After so long without a sample a spell is over: nobody knows what was meanwhile (assumed)."""
MOST_OF_RISE = 120
"""Points that are kept of a rise."""
RATE_FROM_C, RATE_TO_C = 60.0, 150.0
"""Between these the rate of a rise is taken: full power is on, and losses are still small (assumed)."""
WEAK_RATIO = 0.7
"""Rising at less than this share of its first rate, a heater is weak; as in :mod:`feedwright.service.heater`."""
COMPARED = 3
"""So many rises, first and last, are compared by their median."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One reading of a machine."""

    at_utc: datetime
    nozzle_c: float
    target_c: float | None = None
    """None where the message did not say it; 0 where the heater is off."""
    sink_fan_rpm: float | None = None


@dataclass(frozen=True, slots=True)
class Sign:
    """Something seen in the samples that somebody should know of."""

    kind: Literal["fan_still", "fan_stall", "fell_away", "recovered"]
    """The sink fan stands; it stood and that is over; the nozzle fell below its target; it is back there."""
    at_utc: datetime
    """Since when."""
    nozzle_c: float
    """The hottest of that time; of a nozzle that fell away, its target."""
    minutes: float = 0.0
    """How long, where it is over."""


@dataclass(frozen=True, slots=True)
class Spell:
    """A hot spell under way."""

    begun_utc: datetime
    last_utc: datetime
    from_c: float
    last_c: float
    target_c: float
    """What is asked for now; 0 where the heater is off."""
    most_target_c: float
    highest_c: float
    rise: tuple[tuple[float, float], ...] = ()
    """Seconds and °C until the target was reached first."""
    spacing_s: float = 0.0
    """The rise keeps no points closer together than this."""
    rise_s: float | None = None
    steady: bool = False
    """True once the present target was reached."""
    dip_dk: float = 0.0
    samples: int = 0
    away_since: datetime | None = None
    away_told: bool = False
    still_since: datetime | None = None
    still_c: float = 0.0
    still_told: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """What one sample did: the spell as it stands now, the one it ended, and signs."""

    spell: Spell | None
    ended: Spell | None = None
    signs: tuple[Sign, ...] = ()


def step(spell: Spell | None, sample: Sample) -> Step:
    """Take one sample. One that is no later than the last is left out, so that sent twice it counts once."""
    if spell is not None and sample.at_utc <= spell.last_utc:
        return Step(spell)
    if spell is not None and sample.at_utc - spell.last_utc > GAP:
        after = step(None, sample)
        return Step(after.spell, spell, (*_left_open(spell), *after.signs))
    target_c = sample.target_c if sample.target_c is not None else (spell.target_c if spell else 0.0)
    if target_c <= 0 and sample.nozzle_c < COLD_C:
        return Step(None, spell, _left_open(spell) if spell else ())
    if spell is None:
        spell = Spell(sample.at_utc, sample.at_utc, sample.nozzle_c, sample.nozzle_c, target_c, target_c, -math.inf)
    return _signs(_grown(spell, sample, target_c), sample)


def _grown(spell: Spell, sample: Sample, target_c: float) -> Spell:
    """The spell with one more sample in it."""
    since_s = (sample.at_utc - spell.begun_utc).total_seconds()
    changed = target_c != spell.target_c
    reached = target_c > 0 and sample.nozzle_c >= target_c - REACHED_DK
    steady = reached or (spell.steady and not changed and target_c > 0)
    first_reach = reached and spell.rise_s is None
    grown = replace(
        spell,
        last_utc=sample.at_utc,
        last_c=sample.nozzle_c,
        target_c=target_c,
        most_target_c=max(spell.most_target_c, target_c),
        highest_c=max(spell.highest_c, sample.nozzle_c),
        steady=steady,
        dip_dk=max(spell.dip_dk, target_c - sample.nozzle_c) if steady and not reached else spell.dip_dk,
        samples=spell.samples + 1,
    )
    if spell.rise_s is None:
        grown = _with_rise(grown, since_s, sample.nozzle_c)
    return replace(grown, rise_s=since_s) if first_reach else grown


def _with_rise(spell: Spell, since_s: float, nozzle_c: float) -> Spell:
    if spell.rise and since_s - spell.rise[-1][0] < spell.spacing_s:
        return spell
    rise = (*spell.rise, (round(since_s, 1), nozzle_c))
    if len(rise) <= MOST_OF_RISE:
        return replace(spell, rise=rise)
    return replace(spell, rise=rise[::2], spacing_s=2 * (rise[-1][0] - rise[0][0]) / (len(rise) - 1))


def _signs(spell: Spell, sample: Sample) -> Step:
    """What the sample tells of the sink fan and of the heater."""
    signs: list[Sign] = []
    stands = sample.sink_fan_rpm is not None and sample.sink_fan_rpm < FAN_STILL_RPM
    if stands and sample.nozzle_c >= FAN_NEEDED_C:
        since = spell.still_since or sample.at_utc
        spell = replace(spell, still_since=since, still_c=max(spell.still_c, sample.nozzle_c))
        if not spell.still_told and (sample.at_utc - since).total_seconds() >= FAN_STILL_S:
            signs.append(Sign("fan_still", since, spell.still_c))
            spell = replace(spell, still_told=True)
    elif spell.still_since is not None and (sample.sink_fan_rpm is not None or sample.nozzle_c < FAN_NEEDED_C):
        signs += _fan_over(spell)
        spell = replace(spell, still_since=None, still_c=0.0, still_told=False)
    if spell.steady and spell.target_c - sample.nozzle_c >= AWAY_DK:
        since = spell.away_since or sample.at_utc
        spell = replace(spell, away_since=since)
        if not spell.away_told and (sample.at_utc - since).total_seconds() >= AWAY_S:
            signs.append(Sign("fell_away", since, spell.target_c))
            spell = replace(spell, away_told=True)
    elif spell.away_since is not None:
        signs += _away_over(spell)
        spell = replace(spell, away_since=None, away_told=False)
    return Step(spell, None, tuple(signs))


def _fan_over(spell: Spell) -> list[Sign]:
    if spell.still_since is None or not spell.still_told:
        return []
    return [Sign("fan_stall", spell.still_since, spell.still_c, _minutes(spell.still_since, spell.last_utc))]


def _away_over(spell: Spell) -> list[Sign]:
    if spell.away_since is None or not spell.away_told:
        return []
    return [Sign("recovered", spell.away_since, spell.target_c, _minutes(spell.away_since, spell.last_utc))]


def _left_open(spell: Spell) -> tuple[Sign, ...]:
    """What was still going on as the spell ended."""
    return (*_fan_over(spell), *_away_over(spell))


def _minutes(since: datetime, until: datetime) -> float:
    return (until - since).total_seconds() / 60


def rate_c_s(rise: tuple[tuple[float, float], ...]) -> float | None:
    """Mean rate of a rise between 60 and 150 °C in °C/s, by the straight line between its points; None where it
    does not cover them.
    """
    times = [_when(rise, at_c) for at_c in (RATE_FROM_C, RATE_TO_C)]
    if times[0] is None or times[1] is None or times[1] <= times[0]:
        return None
    return (RATE_TO_C - RATE_FROM_C) / (times[1] - times[0])


def _when(rise: tuple[tuple[float, float], ...], at_c: float) -> float | None:
    """When the rise first passed a temperature, in seconds."""
    for (t0, c0), (t1, c1) in pairwise(rise):
        if c0 <= at_c < c1:
            return t0 + (t1 - t0) * (at_c - c0) / (c1 - c0)
    return None
