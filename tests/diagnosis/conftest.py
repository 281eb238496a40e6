"""The shipped network, and a bench to stand at."""

from collections.abc import Callable

import pytest

from feedwright.catalogue.network import Network, load_network
from feedwright.diagnosis.evidence import evidence_of
from feedwright.diagnosis.model import model_of
from feedwright.diagnosis.next_step import Bench
from feedwright.diagnosis.posterior import posterior
from feedwright.diagnosis.values import Likelihood, Posterior, Prices, Situation, State

Stand = Callable[..., tuple[Bench, Posterior, dict[str, Likelihood]]]


@pytest.fixture(scope="session")
def network() -> Network:
    return load_network()


@pytest.fixture(scope="session")
def stand(network: Network) -> Stand:
    """A bench with answers given: bench, posterior and evidence."""

    def stand(
        *seen: str,
        away: tuple[str, ...] = (),
        situation: Situation | None = None,
        state: State = "cold",
        done: tuple[str, ...] = (),
    ) -> tuple[Bench, Posterior, dict[str, Likelihood]]:
        where = situation or Situation("remote", "lined")
        model = model_of(network, where)
        evidence = evidence_of(network, {**dict.fromkeys(seen, "yes"), **dict.fromkeys(away, "no")})
        bench = Bench(network, model, where, Prices(30.0, "EUR"), state, frozenset([*evidence, *done]))
        return bench, posterior(model, evidence), evidence

    return stand
