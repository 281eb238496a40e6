"""The noisy-OR posterior against published examples and against brute force.

Sources: Pearl, Probabilistic Reasoning in Intelligent Systems (1988), leaky noisy-OR with Henrion's leak: two worked
examples whose numbers were found by full enumeration of the joint distribution; Heckerman, "A tractable inference
algorithm for diagnosing multiple diseases" (1989): the signed sum, which holds its digits for few findings.
"""

import itertools
import math

import numpy as np
import pytest

from feedwright.diagnosis.posterior import posterior
from feedwright.diagnosis.values import Likelihood, Model

SEEN, NOT_SEEN = Likelihood(1.0, 0.0), Likelihood(0.0, 1.0)
FOUR_BY_FIVE = Model(
    ("c0", "c1", "c2", "c3"), ("0", "1", "2", "3", "4"),
    np.array([0.02, 0.05, 0.01, 0.10]),
    np.array([[0.9, 0, 0.3, 0, 0], [0.5, 0.7, 0, 0.2, 0], [0, 0.8, 0.6, 0, 0.4], [0, 0.1, 0, 0.5, 0.3]]),
    np.array([0.01, 0.02, 0.005, 0.03, 0.01]),
)  # fmt: skip


def test_one_finding_with_two_causes() -> None:
    """Prior .1 and .2, strengths .8 and .6, leak .05: P(e) 0.23088, posteriors 0.360706861 and 0.563409563."""
    model = Model(("a", "b"), ("e",), np.array([0.1, 0.2]), np.array([[0.8], [0.6]]), np.array([0.05]))
    believed = posterior(model, {"e": SEEN})
    assert math.exp(believed.log_evidence) == pytest.approx(0.23088, rel=1e-12)
    assert believed.chance == pytest.approx([0.360706861, 0.563409563], rel=1e-8)


@pytest.mark.parametrize(
    ("seen", "away", "evidence", "chance"),
    [
        ("0", "", 0.0521245, [0.3466604, 0.492963961, 0.01, 0.1]),
        ("01", "4", 0.01824071665, [0.063872722, 0.955985182, 0.014366599, 0.083854103]),
        ("012", "34", 0.0004586188311, [0.677442851, 0.589796210, 0.307575924, 0.074168022]),
        ("", "01234", 0.8024607431, [0.001426534, 0.006276151, 0.000484614, 0.033816425]),
    ],
)
def test_four_causes_and_five_findings(seen: str, away: str, evidence: float, chance: list[float]) -> None:
    told = dict.fromkeys(seen, SEEN) | dict.fromkeys(away, NOT_SEEN)
    believed = posterior(FOUR_BY_FIVE, told)
    assert math.exp(believed.log_evidence) == pytest.approx(evidence, rel=1e-9)
    assert believed.chance == pytest.approx(chance, abs=1e-9)


def signed_sum(model: Model, told: dict[str, Likelihood]) -> float:
    """P(F+, F-) = sum over S of F+ of (-1)^|S| prod_i [1 - p_i + p_i prod (1 - q_ij)] over j in S or F-, with leaks."""
    away = [model.column(name) for name, held in told.items() if held == NOT_SEEN]
    seen = [model.column(name) for name, held in told.items() if held == SEEN]
    whole = 0.0
    for size in range(len(seen) + 1):
        for chosen in itertools.combinations(seen, size):
            columns = [*away, *chosen]
            silent = 1 - model.prior + model.prior * np.prod(1 - model.strength[:, columns], axis=1)
            whole += (-1) ** size * float(np.prod(1 - model.leak[columns]) * np.prod(silent))
    return whole


def test_the_signed_sum_agrees_where_it_still_holds_its_digits() -> None:
    rng = np.random.default_rng(8)
    for many in (1, 3, 5, 8):
        model = Model(
            tuple(map(str, range(20))), tuple(map(str, range(30))), rng.uniform(0.01, 0.2, 20),
            rng.uniform(0, 0.9, (20, 30)) * (rng.random((20, 30)) < 0.15), rng.uniform(0.01, 0.03, 30),
        )  # fmt: skip
        told = {str(j): SEEN if j < many else NOT_SEEN for j in range(many + 8)}
        assert math.exp(posterior(model, told).log_evidence) == pytest.approx(signed_sum(model, told), rel=1e-6)
