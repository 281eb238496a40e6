"""Samples to hot spells: one row a spell, bounded, the same however often a sample is sent."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from math import exp, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.service.hot_spells import MOST_OF_RISE, Sample, Sign, Spell, rate_c_s, step

BEGAN = datetime(2026, 3, 1, 8, tzinfo=UTC)


def at(second: float, nozzle_c: float, target_c: float | None = None, rpm: float | None = None) -> Sample:
    return Sample(BEGAN + timedelta(seconds=second), nozzle_c, target_c, rpm)


def taken(samples: Iterable[Sample]) -> tuple[list[Spell], list[Sign], Spell | None]:
    spell, ended, signs = None, [], []
    for sample in samples:
        done = step(spell, sample)
        spell = done.spell
        ended += [done.ended] if done.ended else []
        signs += done.signs
    return ended, signs, spell


def heat_up(target_c: float = 215.0, lag_s: float = 60.0, end_c: float = 320.0) -> list[Sample]:
    """A first-order rise from 22 °C at full power, held at the target from when it is reached."""
    return [at(s, min(target_c, 22 + (end_c - 22) * (1 - exp(-s / lag_s))), target_c) for s in range(1200)]


def test_a_heat_up_is_one_spell_with_its_rise() -> None:
    cooling = [at(1200 + s, 22 + 193 * exp(-s / 120), 0.0) for s in range(600)]
    (spell,), signs, left = taken([*heat_up(), *cooling])
    assert left is None
    assert signs == []
    assert (spell.from_c, spell.most_target_c, spell.highest_c) == (22.0, 215.0, 215.0)
    # 22 + 298 (1 - exp(-t/60)) = 213 where t = 61.4 s
    assert spell.rise_s == pytest.approx(61.4, abs=1.0)
    assert len(spell.rise) <= MOST_OF_RISE
    # the same curve passes 60 °C at 8.18 s and 150 °C at 33.65 s
    assert rate_c_s(spell.rise) == pytest.approx(90 / (33.65 - 8.18), rel=0.02)


def test_a_slow_rise_is_thinned_and_stays_true() -> None:
    _, _, spell = taken(heat_up(lag_s=700.0))
    assert spell is not None
    assert MOST_OF_RISE // 2 <= len(spell.rise) <= MOST_OF_RISE
    assert rate_c_s(spell.rise) == pytest.approx(90 / (700 * log(260 / 170)), rel=0.02)


def test_a_sample_sent_twice_or_late_counts_once() -> None:
    once = taken(heat_up()[:100])
    twice = taken(sample for sample in heat_up()[:100] for _ in range(2))
    late = taken([*heat_up()[:100], *heat_up()[:50]])
    assert once == twice == late


def test_a_long_silence_ends_a_spell() -> None:
    (spell,), _, left = taken([at(0, 200.0, 215.0), at(30, 214.0, 215.0), at(1200, 214.5, 215.0)])
    assert spell.last_utc == BEGAN + timedelta(seconds=30)
    assert left is not None
    assert left.begun_utc == BEGAN + timedelta(seconds=1200)


def test_a_standing_sink_fan_is_told_at_once_and_its_heat_when_it_is_over() -> None:
    samples = [at(s, 215.0, 215.0, 4000.0 if s < 60 or s >= 360 else 0.0) for s in range(0, 600, 5)]
    _, signs, _ = taken(samples)
    still, over = signs
    assert (still.kind, still.at_utc) == ("fan_still", BEGAN + timedelta(seconds=60))
    assert (over.kind, over.nozzle_c, over.minutes) == ("fan_stall", 215.0, 5.0)


def test_a_fan_that_rests_on_a_cold_hot_end_is_in_order() -> None:
    _, signs, _ = taken(at(s, 55.0, 60.0, 0.0) for s in range(0, 600, 5))
    assert signs == []


def test_a_nozzle_that_falls_away_is_told_once() -> None:
    fell = [at(s, 215.0 if s < 100 or s > 300 else 190.0, 215.0) for s in range(0, 400, 2)]
    _, signs, spell = taken(fell)
    assert [sign.kind for sign in signs] == ["fell_away", "recovered"]
    assert spell is not None
    assert spell.dip_dk == 25.0


def test_a_lower_target_is_no_fall() -> None:
    _, signs, spell = taken([at(s, 215.0 if s < 200 else 215 - (s - 200) / 4, 215.0 if s < 200 else 170.0)
                             for s in range(0, 380, 2)])  # fmt: skip
    assert signs == []
    assert spell is not None
    assert spell.dip_dk == 0.0


def test_no_rate_where_the_rise_does_not_cover_it() -> None:
    assert rate_c_s(()) is None
    assert rate_c_s(((0.0, 100.0), (10.0, 200.0))) is None


@given(
    st.lists(
        st.tuples(
            st.floats(0.1, 900), st.floats(-40, 600), st.none() | st.floats(0, 600), st.none() | st.floats(0, 9000)
        ),
        max_size=60,
    )
)
def test_whatever_comes_the_spell_stays_bounded_and_true(told: list[tuple[float, float, float | None, float | None]]):
    now_s, samples = 0.0, []
    for after_s, nozzle_c, target_c, rpm in told:
        now_s += after_s
        samples.append(at(now_s, nozzle_c, target_c, rpm))
    ended, _, left = taken(samples)
    for spell in [*ended, *([left] if left else [])]:
        assert spell.begun_utc <= spell.last_utc
        assert len(spell.rise) <= MOST_OF_RISE
        assert spell.dip_dk >= 0
        inside = [one for one in samples if spell.begun_utc <= one.at_utc <= spell.last_utc]
        assert spell.highest_c == max(one.nozzle_c for one in inside)
        assert spell.samples == len(inside)
