"""Priors: what the machine cannot have, what the records know, what closed cases taught."""

import pytest

from feedwright.catalogue.network import Network
from feedwright.diagnosis.model import LEAST, MOST, model_of
from feedwright.diagnosis.values import Counts, Situation


def prior(network: Network, cause: str, situation: Situation, counts: Counts | None = None) -> float:
    model = model_of(network, situation, counts)
    return float(model.prior[model.causes.index(cause)])


def test_what_the_machine_cannot_have_is_ruled_out(network: Network) -> None:
    assert prior(network, "liner_gap", Situation("remote", "all_metal")) == 0
    assert prior(network, "tube_crept", Situation("direct", "lined")) == 0
    known, unknown = (prior(network, "liner_gap", Situation(None, hot_end)) for hot_end in ("lined", None))
    assert unknown == pytest.approx(known * network.figure("lined_share_frac"))


def test_a_circumstance_multiplies_the_odds(network: Network) -> None:
    plain = prior(network, "soak_plug", Situation())
    cut = prior(network, "soak_plug", Situation(circumstances={"after_power_cut": True}))
    factor = network.causes["soak_plug"].shifts["after_power_cut"].value
    assert cut / (1 - cut) == pytest.approx(factor * plain / (1 - plain))
    assert prior(network, "soak_plug", Situation(circumstances={"after_power_cut": False})) == plain


def test_a_worn_part_is_suspected_and_a_sound_one_less(network: Network) -> None:
    worn = Situation("remote", "lined", part_spent_frac={"drive_gear": 0.8})
    fresh = Situation("remote", "lined", part_spent_frac={"drive_gear": 0.01})
    sound = Situation("remote", "lined", part_spent_frac={"drive_gear": 0.8}, part_sound=frozenset({"drive_gear"}))
    assert prior(network, "gear_worn", worn) > 0.4
    assert prior(network, "gear_worn", fresh) < network.causes["gear_worn"].prior_frac.value
    assert prior(network, "gear_worn", sound) < prior(network, "gear_worn", fresh) * 2
    assert prior(network, "gear_packed", worn) == pytest.approx(network.causes["gear_packed"].prior_frac.value)


def test_no_prior_is_nought_or_one(network: Network) -> None:
    everything = dict.fromkeys(network.circumstances, True)
    model = model_of(network, Situation("remote", "lined", everything, {"tube_end": 1.0}))
    possible = model.prior[model.prior > 0]
    assert possible.min() >= LEAST
    assert possible.max() <= MOST


def test_closed_cases_are_conjugate_counts(network: Network) -> None:
    """Beta(p n, (1 - p) n) with n = 60 and 6 of 10 cases: (60 p + 6) / 70."""
    start = network.causes["reversal_short"].prior_frac.value
    taught = prior(network, "reversal_short", Situation(), Counts(10, {"reversal_short": 6}))
    assert taught == pytest.approx((60 * start + 6) / 70)
    assert prior(network, "belt_loose", Situation(), Counts(10, {"reversal_short": 6})) < prior(
        network, "belt_loose", Situation()
    )


def test_a_strength_learns_through_the_leak(network: Network) -> None:
    """Strings with a moist filament: q .6, leak .06, n 25; seen in 0 of 10 cases."""
    counts = Counts(10, {"filament_moist": 10}, {("filament_moist", "strings"): (0, 10)})
    before, after = model_of(network, Situation()), model_of(network, Situation(), counts)
    i, j = before.causes.index("filament_moist"), before.column("strings")
    rate = (1 - (1 - 0.6) * (1 - 0.06)) * 25 / 35
    assert after.strength[i, j] == pytest.approx(1 - (1 - rate) / (1 - 0.06))
    assert before.strength[i, j] == pytest.approx(0.6)


def test_a_repair_tried_in_vain_clears_its_causes_and_no_other(network: Network) -> None:
    plain, tried = Situation("remote", "lined"), Situation("remote", "lined", tried=frozenset({"trim_tube_end"}))
    assert prior(network, "liner_gap", tried) < 0.05 * prior(network, "liner_gap", plain)
    assert prior(network, "partial_clog", tried) == prior(network, "partial_clog", plain)
