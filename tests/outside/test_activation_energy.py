"""An activation energy learned from censored lives, against a published fit.

Source: Nelson, Accelerated Testing (1990), motor insulation at four temperatures (R survival's ``imotor``): the Weibull
Arrhenius fit of all 40 units gives 0.83794 eV, with a standard error of 0.69625 x 0.08617333 = 0.0600 eV.
"""

import math

import numpy as np
import pytest

from feedwright.catalogue.entry import Life, Sourced
from feedwright.wear.exposure import arrhenius_factor
from feedwright.wear.likelihood import Rows, log_likelihood
from feedwright.wear.numbers import learn_number

ASSUMED = Sourced(0.8, 0.5, 1.1, "ev", "assumed")


def test_motor_insulation_tells_its_activation_energy() -> None:
    hours = {
        150.0: ([], [8064.0] * 10),
        170.0: ([1764.0, 2772, 3444, 3542, 3780, 4860, 5196], [5448.0] * 3),
        190.0: ([408.0, 408, 1344, 1344, 1440], [1680.0] * 5),
        220.0: ([408.0, 408, 504, 504, 504], [528.0] * 5),
    }
    life = Life("weibull", Sourced(3000.0, 300.0, 30_000.0, "exposure", "assumed"), ASSUMED)
    log_median, log_shape = np.linspace(math.log(200), math.log(60_000), 161), np.linspace(-0.5, 2.5, 81)

    def log_evidence(energy: float) -> float:
        low, high = [], []
        for at_c, (failures, running) in hours.items():
            factor = arrhenius_factor(at_c, 190.0, energy)
            low += [factor * t for t in failures + running]
            high += [factor * t for t in failures] + [math.inf] * len(running)
        rows = Rows(np.array(low)[:, None], np.array(high)[:, None], np.zeros((40, 1)), np.zeros(40, dtype=np.intp))
        told = log_likelihood(life.distribution, log_median, np.exp(log_shape), rows, 1)[0]
        # densities of exact failures are per hour, and not per hour at the reference temperature
        told = told + sum(
            len(failures) * math.log(arrhenius_factor(at_c, 190.0, energy)) for at_c, (failures, _) in hours.items()
        )
        return float(told.max() + math.log(np.exp(told - told.max()).sum()))

    wide = Sourced(0.8, 0.3, 1.3, "ev", "assumed")
    found = learn_number("energy", wide, log_evidence, on_log=False)
    assert found.telling
    assert found.learned.mid == pytest.approx(0.838, abs=0.02)
    assert (found.learned.high - found.learned.low) / (2 * 1.645) == pytest.approx(0.0600, rel=0.25)
