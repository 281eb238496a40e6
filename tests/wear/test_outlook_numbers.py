"""A whole farm's outlooks at once are what each part's own would be."""

import numpy as np
import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.wear.life import curve, prior
from feedwright.wear.outlook import still_alive
from feedwright.wear.outlook_numbers import CHUNK, outlook_numbers
from feedwright.wear.standing import Standing
from feedwright.wear.values import Interval, PaceOfUse

LIFE = curve(prior(load_catalogue().parts["tube_end"].life))
PACE = PaceOfUse(5.0, 0.3, 12.0)


def standings() -> list[Standing]:
    """Known and unknown ages, sound and worn looks, more of them than one chunk holds."""
    some = [
        Standing.of(Interval(100.0, 100.0, 100.0)),
        Standing.of(Interval(0.0, 96.0, 216.0)),
        Standing(np.array([150.0]), np.array([250.0]), np.array([np.inf]), np.ones(1)),
        Standing(np.array([150.0, 150.0]), np.array([150.0, 180.0]), np.array([190.0, 230.0]), np.array([0.3, 0.7])),
    ]
    return some * (CHUNK // 4 + 1)


def test_together_and_alone_are_the_same() -> None:
    many = standings()
    alive = np.stack([LIFE.survival] * len(many))
    together = outlook_numbers(LIFE.exposure, alive, many, [PACE] * len(many))
    for row in (0, 1, 2, 3, len(many) - 1):
        alone = outlook_numbers(LIFE.exposure, alive[:1], [many[row]], [PACE])
        assert together.failure_frac[row] == pytest.approx(alone.failure_frac[0])
        assert together.remaining[row] == pytest.approx(alone.remaining[0])
        assert together.remaining_days[row] == pytest.approx(alone.remaining_days[0])


@pytest.mark.parametrize("row", range(4))
def test_what_is_left_is_where_the_chance_passes_its_share(row: int) -> None:
    standing = standings()[row]
    numbers = outlook_numbers(LIFE.exposure, LIFE.survival[None], [standing], [PACE])
    assert still_alive(LIFE, standing, numbers.remaining[0]) == pytest.approx([0.9, 0.5, 0.1], abs=2e-3)
    steady = outlook_numbers(LIFE.exposure, LIFE.survival[None], [standing], [PaceOfUse(5.0, 0.0, 12.0)])
    expected = 1.0 - still_alive(LIFE, standing, np.array([5.0, 35.0, 150.0]))
    assert steady.failure_frac[0] == pytest.approx(expected, abs=1e-6)
    assert steady.remaining_days[0] == pytest.approx(steady.remaining[0] / 5.0, rel=0.03)


def test_a_part_at_rest_does_not_fail() -> None:
    numbers = outlook_numbers(LIFE.exposure, LIFE.survival[None], standings()[:1], [PaceOfUse(0.0, 0.6, 0.0)])
    assert (numbers.failure_frac == 0).all()
    assert np.isinf(numbers.remaining_days).all()
