"""Simulated faults: how many checks, and what cost, until the true cause is cured.

    python benchmarks/bench_diagnosis.py [--faults 5000] [--seed 2026]

Each fault is one cause drawn by its prior on a machine of drawn kind; every observation is then drawn from the
network. The owner reports up to two things that the print shows or that are heard. Compared, on the same faults:
- ours: the advice of diagnosis/next_step.py, step after step;
- one list for every trouble: look for the telling sign of each cause, repair where it is seen; in the best order that
  can be fixed beforehand (prior over cost of the look); then repair blindly in the order of prior over cost;
- a card for each leading symptom: the same list, but its order made for the first symptom reported;
- perfect information: the repair of the true cause at once.
"""

import argparse
import statistics
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from feedwright.catalogue.network import Network, Step, load_network
from feedwright.diagnosis.evidence import evidence_of
from feedwright.diagnosis.model import model_of
from feedwright.diagnosis.next_step import Bench, advise, price, unknown_cost
from feedwright.diagnosis.posterior import posterior
from feedwright.diagnosis.values import Model, Prices, Situation, State

PRICES = Prices(30.0, "EUR")
NET = load_network()


@dataclass(frozen=True)
class Fault:
    cause: str
    situation: Situation
    truth: dict[str, bool]
    reported: tuple[str, ...]


@dataclass(frozen=True)
class Spent:
    checks: int
    repairs: int
    cost: float
    found: bool


def draw(rng: np.random.Generator) -> Fault:
    """One fault whose print shows something; by rejection."""
    while True:
        situation = Situation("remote" if rng.random() < NET.figure("remote_share_frac") else "direct",
                              "lined" if rng.random() < NET.figure("lined_share_frac") else "all_metal")  # fmt: skip
        model = model_of(NET, situation)
        odds = model.prior / (1 - model.prior)
        i = int(rng.choice(len(odds), p=odds / odds.sum()))
        seen = rng.random(len(model.leak)) < 1 - (1 - model.leak) * (1 - model.strength[i])
        truth = dict(zip(model.observations, map(bool, seen), strict=True))
        shown = [name for name, there in truth.items() if there and NET.observations[name].group in ("print", "hear")]
        if shown:
            picked = rng.permutation(shown)[:2]
            return Fault(model.causes[i], situation, truth, tuple(str(name) for name in picked))


def after(step: Step, state: State) -> State:
    return state if step.state == "any" else step.state


def ours(fault: Fault, longest: int = 200) -> Spent:
    answers = dict.fromkeys(fault.reported, "yes")
    situation, state, done = fault.situation, "cold", set()
    checks, repairs, cost = 0, 0, 0.0
    for _ in range(longest):
        model = model_of(NET, situation)
        evidence = evidence_of(NET, answers)
        bench = Bench(NET, model, situation, PRICES, state, frozenset({*answers, *done}))
        best = advise(bench, posterior(model, evidence)).best
        if best is None:
            break
        step = (NET.checks if best.kind == "check" else NET.repairs)[best.step]
        cost += price(bench, step, proof=best.kind == "repair", asked=len(best.asks) if step.one_by_one else 1)[1]
        state = after(step, state)
        if best.kind == "check":
            checks += 1
            answers |= {name: "yes" if fault.truth[name] else "no" for name in best.asks}
            continue
        repairs += 1
        if NET.causes[fault.cause].cure == step.id:
            return Spent(checks, repairs, cost, True)
        situation = replace(situation, tried=situation.tried | {step.id})
        done.add(step.id)
    return Spent(checks, repairs, cost + unknown_cost(bench), False)


def telling(network: Network, repair: str) -> tuple[str, str]:
    """The observation that speaks most clearly for a repair, and the check that answers it."""
    best = ("", 0.0)
    for cause in network.causes.values():
        if cause.cure == repair:
            for name, strength in cause.shows.items():
                clear = strength.value / (
                    strength.value + network.observations[name].leak_frac.value + others(network, name, cause.id)
                )
                if clear * strength.value > best[1]:
                    best = (name, clear * strength.value)
    check = min((c for c in network.checks.values() if best[0] in c.reveals), key=lambda c: c.minutes.value)
    return best[0], check.id


def others(network: Network, name: str, but: str) -> float:
    return sum(
        c.prior_frac.value * c.shows[name].value for c in network.causes.values() if name in c.shows and c.id != but
    )


TELLING = {repair: telling(NET, repair) for repair in NET.repairs}


def by_list(fault: Fault, chance: dict[str, float]) -> Spent:
    """Work through a list whose order was fixed beforehand from the chance of each repair."""
    bench = Bench(NET, model_of(NET, fault.situation), fault.situation, PRICES)
    order = sorted((r for r in NET.repairs if chance.get(r, 0) > 0),
                   key=lambda r: -chance[r] / price(bench, NET.checks[TELLING[r][1]])[1])  # fmt: skip
    state: State = "cold"
    asked, tried = set(), set()
    checks, repairs, cost = 0, 0, 0.0

    def repair(name: str) -> bool:
        nonlocal cost, repairs, state
        cost += price(bench, NET.repairs[name], proof=True, start=state)[1]
        state = after(NET.repairs[name], state)
        repairs += 1
        tried.add(name)
        return NET.causes[fault.cause].cure == name

    for name in order:
        sign, check = TELLING[name]
        step = NET.checks[check]
        key = sign if step.one_by_one else check
        if key not in asked and sign not in fault.reported:
            cost += price(bench, step, start=state)[1]
            state = after(step, state)
            checks += 1
            asked.add(key)
        if fault.truth[sign] and repair(name):
            return Spent(checks, repairs, cost, True)
    for name in sorted(set(order) - tried, key=lambda r: -chance[r] / price(bench, NET.repairs[r], proof=True)[1]):
        if repair(name):
            return Spent(checks, repairs, cost, True)
    return Spent(checks, repairs, cost + unknown_cost(bench), False)


def repair_chances(model: Model, weight: np.ndarray) -> dict[str, float]:
    chance: dict[str, float] = {}
    for name, share in zip(model.causes, weight, strict=True):
        chance[NET.causes[name].cure] = chance.get(NET.causes[name].cure, 0.0) + float(share)
    return chance


def one_list(fault: Fault) -> Spent:
    model = model_of(NET, fault.situation)
    return by_list(fault, repair_chances(model, model.prior))


def card(fault: Fault) -> Spent:
    model = model_of(NET, fault.situation)
    believed = posterior(model, evidence_of(NET, {fault.reported[0]: "yes"}))
    # what the card does not name comes after it, in the order of the one list
    return by_list(fault, repair_chances(model, believed.at_work + 1e-4 * model.prior))


def perfect(fault: Fault) -> Spent:
    bench = Bench(NET, model_of(NET, fault.situation), fault.situation, PRICES)
    return Spent(0, 1, price(bench, NET.repairs[NET.causes[fault.cause].cure], proof=True)[1], True)


def say(name: str, spent: list[Spent], against: float) -> float:
    mean = statistics.fmean(one.cost for one in spent)
    error = statistics.stdev(one.cost for one in spent) / len(spent) ** 0.5
    checks = statistics.median(one.checks for one in spent)
    repairs = statistics.median(one.repairs for one in spent)
    missed = sum(not one.found for one in spent)
    share = f", {mean / against:.0%} of the one list" if against else ""
    print(f"{name:34} median {checks:g} checks and {repairs:g} repairs, mean cost {mean:.2f} ± {error:.2f} EUR{share}; "
          f"not found {missed}")  # fmt: skip
    return mean


def faults(count: int, seed: int) -> Iterator[Fault]:
    rng = np.random.default_rng(seed)
    for _ in range(count):
        yield draw(rng)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--faults", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=2026)
    given = parser.parse_args()
    drawn = list(faults(given.faults, given.seed))
    print(f"{len(drawn)} faults, seed {given.seed}; bench hour at {PRICES.hour:g} {PRICES.currency}")
    begun = time.perf_counter()
    mean = say("one list for every trouble", [one_list(fault) for fault in drawn], 0.0)
    say("a card for each leading symptom", [card(fault) for fault in drawn], mean)
    say("ours", [ours(fault) for fault in drawn], mean)
    say("perfect information", [perfect(fault) for fault in drawn], mean)
    print(f"took {time.perf_counter() - begun:.0f} s")
