"""The farm's belief about a part kind: pooled, yet one bad machine is seen as such, and at once."""

import math
from dataclasses import replace

import numpy as np
import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.wear.findings import Look, Story
from feedwright.wear.likelihood import Rows
from feedwright.wear.pooled import PooledLife, learn, without
from feedwright.wear.posterior import mean_of, posterior, quantiles
from feedwright.wear.telling import about_the_machine, ratio_to_rule
from feedwright.wear.values import Interval

TUBE = load_catalogue().parts["tube_end"]
NEW = Interval(0.0, 0.0, 0.0)


def failed(machine: int, life: float, product: str = "plain") -> Story:
    return Story(machine, product, NEW, life, "failed", (), 0.97 * life)


def alive(machine: int, gathered: float, *looks: tuple[float, str], product: str = "plain") -> Story:
    return Story(machine, product, NEW, gathered, "open", tuple(Look(at, grade) for at, grade in looks))


def median(life: PooledLife) -> float:
    return quantiles(life.grid.log_median, life.kind_weight.sum(axis=1), (0.5,))[0]


def lives(machine: int, scale: float, count: int, seed: int) -> list[Story]:
    draw = np.random.default_rng(seed)
    return [failed(machine, scale * draw.weibull(3.0)) for _ in range(count)]


def test_without_findings_it_is_the_rule_of_thumb() -> None:
    life = learn(TUBE, [])
    assert math.exp(median(life)) == pytest.approx(TUBE.life.median.value, rel=0.02)
    assert life.findings == 0
    low, high = quantiles(life.grid.log_median, life.kind_weight.sum(axis=1), (0.05, 0.95))
    assert math.exp(low) == pytest.approx(80.0, rel=0.05)
    assert math.exp(high) == pytest.approx(720.0, rel=0.05)


def test_every_weight_sums_to_one() -> None:
    life = learn(TUBE, [*lives(1, 200.0, 4, 1), alive(2, 150.0, (120.0, "clean")), alive(3, 30.0)])
    for weight in (life.kind_weight, *life.product_weight.values(), *life.group_weight.values()):
        assert weight.sum() == pytest.approx(1.0)
    assert life.edge_weight.sum() == pytest.approx(1.0)
    assert life.frailty_weight.sum() == pytest.approx(1.0)


def test_failures_shorten_and_survivors_lengthen_the_belief() -> None:
    rule = median(learn(TUBE, []))
    assert median(learn(TUBE, lives(1, 100.0, 5, 1))) < rule
    assert median(learn(TUBE, [alive(m, 500.0) for m in range(5)])) > rule


def test_a_single_clean_look_moves_it_at_once_and_a_worn_one_the_other_way() -> None:
    plain = median(learn(TUBE, [alive(1, 150.0)]))
    assert median(learn(TUBE, [alive(1, 150.0, (150.0, "clean"))])) > plain
    assert median(learn(TUBE, [alive(1, 150.0, (150.0, "ring"))])) < plain


def test_one_bad_machine_is_seen_as_such_and_does_not_spoil_the_rest() -> None:
    good = [story for machine in range(6) for story in lives(machine, 300.0, 4, machine)]
    life = learn(TUBE, good + lives(9, 90.0, 6, 99))
    bad, other = (ratio_to_rule(life, life.group_weight[m, "plain"]).mid for m in (9, 1))
    assert bad < 0.6 * other
    assert "less long" in about_the_machine(life, 9, "plain", good + lives(9, 90.0, 6, 99))[0]
    assert life.frailty_weight[0] < 0.1, "machines differ much"


def test_a_machine_of_which_nothing_is_known_is_like_any_other_but_less_sure() -> None:
    life = learn(TUBE, [story for machine in range(4) for story in lives(machine, 300.0, 5, machine)])
    known, unknown = (
        quantiles(life.grid.log_median, life.weight_of(m, "plain").sum(axis=0).sum(axis=1), (0.1, 0.5, 0.9))
        for m in (1, 77)
    )
    assert unknown[2] - unknown[0] > known[2] - known[0]


def test_a_product_learns_from_the_others_by_its_ratio() -> None:
    """The plain tube lasts half the rule of thumb: so the better one is believed to last less too."""
    plain = [story for machine in range(5) for story in lives(machine, 130.0, 5, machine)]
    before, after = learn(TUBE, []), learn(TUBE, plain)
    better = "higher_temperature"
    assert (
        ratio_to_rule(after, after.product_weight[better]).mid
        < 0.75 * ratio_to_rule(before, before.product_weight[better]).mid
    )


def test_with_hardly_any_frailty_it_is_the_plain_posterior() -> None:
    """Many machines with one part each, all alike: the root agrees with the posterior of all parts in one pot."""
    draw = np.random.default_rng(5)
    told = [failed(machine, 250.0 * draw.weibull(3.0)) for machine in range(120)]
    life = learn(TUBE, told)
    high = np.array([[story.gathered] for story in told])
    pot = posterior(TUBE.life, Rows(0.97 * high, high, np.zeros_like(high), np.zeros(high.size, dtype=np.intp)))
    assert median(life) == pytest.approx(mean_of(pot, pot.log_median[:, None]), abs=0.06)


def test_what_a_part_showed_itself_is_taken_out_before_its_own_chances_are_reckoned() -> None:
    """Without its own story the belief about a lone survivor's group is the one learned from all the others."""
    others = [story for machine in range(3) for story in lives(machine, 250.0, 4, machine)]
    own = alive(8, 400.0)
    learned = learn(TUBE, [*others, own])
    weight = without(learned, own)
    alone = learn(TUBE, others)
    expected = alone.weight_of(8, "plain")
    here, there = (
        quantiles(life.grid.log_median, w.sum(axis=0).sum(axis=1), (0.1, 0.5, 0.9))
        for life, w in ((learned, weight), (alone, expected))
    )
    assert here == pytest.approx(there, abs=0.08)


def test_a_lognormal_life_is_learned_alike() -> None:
    kind = replace(TUBE, life=replace(TUBE.life, distribution="lognormal"))
    draw = np.random.default_rng(3)
    told = [failed(machine, 150.0 * math.exp(draw.standard_normal() / 3)) for machine in range(6) for _ in range(5)]
    life = learn(kind, told)
    assert math.exp(median(life)) == pytest.approx(150.0, rel=0.15)
    shape = quantiles(life.grid.log_shape, life.kind_weight.sum(axis=0), (0.5,))[0]
    assert math.exp(shape) == pytest.approx(3.0, rel=0.3)
