"""Demand made from outlooks: by each day, over several renewals, and what a stock lasts."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from feedwright.planning.demand import PartAhead, RenewalsAhead, failed_by, quantiles, renewals_ahead
from feedwright.planning.values import Advice
from feedwright.units import Money
from feedwright.wear.values import Interval, Outlook, PaceOfUse

NEVER = Interval(math.inf, math.inf, math.inf)


def weibull_days(median: float, shape: float, age: float = 0.0) -> tuple[Interval, list[float], stats.rv_continuous]:
    """Days left of a Weibull life at an age, chances by a day, a week and a month, and the life itself."""
    life = stats.weibull_min(shape, scale=median / math.log(2) ** (1 / shape))
    left = [float(life.isf(life.sf(age) * alive)) - age for alive in (0.9, 0.5, 0.1)]
    by = [1 - float(life.sf(age + day) / life.sf(age)) for day in (1, 7, 30)]
    return Interval(*left), by, life


def part(
    *, left: Interval = NEVER, by: list[float] | None = None, best: float = math.inf, cycle: float = math.inf,
    life: Interval = NEVER, relative_sd: float = 0.15, per_day: float = 1.0, pieces: int = 1,
) -> PartAhead:  # fmt: skip
    """A part whose exposure is days of use."""
    day, week, month = by or (0.0, 0.0, 0.0)
    nothing = Interval(0.0, 0.0, 0.0)
    outlook = Outlook(
        "nozzle", nothing, "d", life, nothing, day, week, month, left, left, left, (), (), "the rule of thumb"
    )  # fmt: skip
    none = Money.of(0, "EUR")
    advice = Advice("in order", "renew", none, best, best, none, none, cycle, (), math.inf, ())
    return PartAhead(outlook, PaceOfUse(per_day, relative_sd, 5.0), advice, pieces)


@pytest.mark.parametrize(("median", "shape", "age"), [(60, 2.5, 0), (200, 3.0, 150), (40, 1.2, 10), (500, 1.0, 3)])
def test_chances_between_the_known_days_follow_the_life_they_came_from(median: float, shape: float, age: float) -> None:
    """A Weibull life, new or of some age: within two hundredths at every day up to nine tenths failed."""
    left, by, life = weibull_days(median, shape, age)
    at = np.arange(0, int(min(left.high, 400)), dtype=np.float64)
    exact = 1 - life.sf(age + at) / life.sf(age)
    found = failed_by([part(left=left, by=by).outlook], at)[0]
    assert np.abs(found - exact).max() < 0.02
    assert found[[1, 7]] == pytest.approx(exact[[1, 7]], abs=1e-9)
    assert (np.diff(found) >= 0).all()


def test_a_part_that_is_never_used_asks_for_nothing_and_a_failed_one_for_one_now() -> None:
    idle = part(per_day=0.0)
    failed = part(by=[1.0, 1.0, 1.0], left=Interval(0.0, 0.0, 0.0), per_day=0.0)
    ahead = renewals_ahead([idle, failed], 60)
    assert ahead.expected().tolist() == [1.0] * 61
    assert ahead.due_now().tolist() == [False, True]
    assert ahead.failing[1, 0] == 1.0


def test_a_planned_renewal_comes_when_its_exposure_is_gathered_give_or_take_the_pace() -> None:
    steady = renewals_ahead([part(best=30.0, relative_sd=1e-6)], 60).at_least[0][0]
    assert steady[29] == pytest.approx(0.0, abs=1e-6)
    assert steady[31] == pytest.approx(1.0, abs=1e-6)
    spread = renewals_ahead([part(best=30.0, relative_sd=0.6)], 60).at_least[0][0]
    assert 0.02 < spread[22] < spread[30] < spread[40] < 0.999
    assert spread[30] == pytest.approx(0.5, abs=0.1)


def test_every_renewal_is_followed_by_another_a_cycle_later() -> None:
    """Renewed by age alone at 20 days each: the plain count of whole cycles."""
    held = part(best=5.0, cycle=20.0, relative_sd=1e-6)
    ahead = renewals_ahead([held], 90)
    expected = ahead.expected()
    for day, count in ((4, 0), (6, 1), (24, 1), (27, 2), (48, 3), (89, 5)):
        assert expected[day] == pytest.approx(count, abs=0.05), day


def test_failures_at_a_constant_rate_are_a_poisson_process() -> None:
    """Exponential lives, renewed on failure: the count to a day is Poisson, up to counting in whole days."""
    mean = 50.0
    life = Interval(*(mean * -math.log(alive) for alive in (0.9, 0.5, 0.1)))
    by = [1 - math.exp(-day / mean) for day in (1, 7, 30)]
    ahead = renewals_ahead([part(left=life, by=by, life=life)], 120)
    for day in (30, 60, 120):
        counts = ahead.counts(np.array([day]))[0, :, 0]
        exact = stats.poisson.pmf(np.arange(counts.size), day / mean)
        assert np.abs(counts - exact).max() < 0.015
    assert ahead.failing[0] == pytest.approx(ahead.at_least[0][0])


parts = st.lists(st.tuples(st.floats(0, 1), st.integers(1, 3)), min_size=1, max_size=6)


@settings(deadline=None, max_examples=60)
@given(parts, st.integers(0, 8))
def test_a_stock_lasts_as_long_as_what_is_needed_stays_within_it(parts: list[tuple[float, int]], held: int) -> None:
    """Against the distribution of the pieces itself, on two days."""
    chance = np.array([[0.3 * each, each] for each, _ in parts])
    twice = 0.2 * chance
    pieces = np.array([many for _, many in parts], dtype=np.int64)
    ahead = RenewalsAhead(pieces, (chance, twice), chance)
    lasting = ahead.lasting(held, np.array([0, 1]))
    for day in (0, 1):
        assert lasting[day] == pytest.approx(ahead.pieces_pmf(np.array([day]))[0, : held + 1].sum(), abs=1e-9)
    assert ahead.lasting(-1, np.array([0, 1])).tolist() == [0.0, 0.0]
    assert ahead.expected()[1] == pytest.approx(float(pieces @ (chance + twice)[:, 1]))


def test_the_band_of_a_whole_number_holds_eight_in_ten() -> None:
    pmf = stats.binom.pmf(np.arange(11), 10, 0.5)
    assert quantiles(pmf) == Interval(3.0, 5.0, 7.0)
    assert quantiles(np.ones(1)) == Interval(0.0, 0.0, 0.0)
