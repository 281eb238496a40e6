"""What a rule of thumb amounts to: a curve that falls, an honest band, and long-run rates that fit both."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedwright.catalogue.entry import Life, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.wear.life import Belief, curve, prior

PARTS = load_catalogue().parts


def life(median: float, factor: float, shape: float, shape_factor: float, distribution: str = "weibull") -> Life:
    """A rule of thumb known to within these factors either way."""
    return Life(
        distribution,  # type: ignore[arg-type]
        Sourced(median, median / factor, median * factor, "exposure", "assumed"),
        Sourced(shape, shape / shape_factor, shape * shape_factor, "ratio", "assumed"),
    )


lives = st.builds(
    life,
    st.floats(0.1, 1e6),
    st.floats(1.0, 5.0),
    st.floats(0.8, 5.0),
    st.floats(1.0, 2.0),
    st.sampled_from(["weibull", "lognormal"]),
)


@settings(max_examples=30, deadline=None)
@given(lives)
def test_the_curve_falls_from_all_alive_and_its_band_holds_the_median(believed: Life) -> None:
    held = curve(prior(believed))
    assert held.survival[0] == pytest.approx(1.0, abs=1e-12)
    assert np.all(np.diff(held.survival) <= 1e-12)
    assert np.all((held.survival >= 0) & (held.survival <= 1 + 1e-12))
    assert 0 < held.life.low < held.life.mid < held.life.high
    for failed in (0.05, 0.3, 0.8):
        assert held.alive(held.quantile(failed)) == pytest.approx(1 - failed, abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(lives, st.floats(0.1, 20.0))
def test_a_product_that_lasts_longer_stretches_the_whole_curve(believed: Life, ratio: float) -> None:
    plain, better = curve(prior(believed)), curve(prior(believed, ratio))
    assert better.life.mid == pytest.approx(ratio * plain.life.mid, rel=1e-9)
    assert better.life.low == pytest.approx(ratio * plain.life.low, rel=1e-9)
    assert better.rates.failures == pytest.approx(plain.rates.failures / ratio, rel=1e-9)


def test_the_weights_of_a_belief_sum_to_one_and_hold_its_bands() -> None:
    belief = prior(PARTS["tube_end"].life)
    assert belief.weight.sum() == pytest.approx(1.0)
    median = PARTS["tube_end"].life.median
    within = (belief.log_median >= math.log(median.low)) & (belief.log_median <= math.log(median.high))
    assert belief.weight[within].sum() == pytest.approx(0.9, abs=0.03)


def test_a_wider_belief_gives_a_wider_band_of_lives() -> None:
    sure, unsure = (curve(prior(life(100.0, factor, 3.0, 1.0))).life for factor in (1.0, 3.0))
    assert unsure.low < sure.low < sure.high < unsure.high
    assert sure.mid == pytest.approx(100.0, rel=1e-3)


def test_a_life_known_exactly_fails_at_the_rate_of_its_mean_when_never_renewed_by_age() -> None:
    """Elementary renewal theorem: failures per unit tend to one over the mean life (Barlow & Proschan 1965)."""
    rates = curve(prior(life(100.0, 1.0, 2.0, 1.0))).rates
    mean = 100.0 / math.log(2.0) ** 0.5 * math.gamma(1.5)
    assert rates.failures[-1] == pytest.approx(1 / mean, rel=1e-3)
    assert rates.planned[-1] == pytest.approx(0.0, abs=1e-12)


def test_a_life_without_memory_fails_at_one_rate_whenever_it_is_renewed() -> None:
    rates = curve(prior(life(100.0, 1.0, 1.0, 1.0))).rates
    assert rates.failures[50:] == pytest.approx(np.full(len(rates.failures) - 50, math.log(2) / 100.0), rel=2e-3)


def test_an_unknown_life_is_weighed_by_the_rates_it_would_bring() -> None:
    """Half a chance of 50 and half of 200 fails at the mean of their two rates, not at that of a life of 125."""
    two = Belief("weibull", np.log([50.0, 200.0]), np.log([5.0]), np.array([[0.5], [0.5]]), "two guesses")
    each = [curve(prior(life(median, 1.0, 5.0, 1.0))).rates.failures[-1] for median in (50.0, 200.0)]
    assert curve(two).rates.failures[-1] == pytest.approx(sum(each) / 2, rel=1e-3)


@pytest.mark.parametrize("kind", PARTS.values(), ids=lambda kind: kind.id)
def test_every_rule_of_thumb_of_the_catalogue_gives_a_curve_about_its_median(kind) -> None:  # type: ignore[no-untyped-def]
    held = curve(prior(kind.life))
    assert held.life.mid == pytest.approx(kind.life.median.value, rel=0.1)
    assert held.survival[-1] < 1e-3
    assert held.source == "the rule of thumb"
