"""What ways of keeping this farm would cost over the coming years, by what is believed of its parts."""

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import Conflict
from feedwright.farm.ground.naming import within
from feedwright.farm.ground.settings import figures
from feedwright.farm.ground.values import FittedPart
from feedwright.farm.outlook.costs import CostOfMachine
from feedwright.farm.outlook.forecasts import costs_of_machines, fitted_parts
from feedwright.farm.outlook.judgement import Judgement, worn_from_frac
from feedwright.farm.outlook.learning import FarmLives, farm_lives
from feedwright.farm.outlook.stories import median_life
from feedwright.planning.policy import PartInPlace, PartRule, Policy, PolicyOutcome, simulate
from feedwright.records.store import Store
from feedwright.wear.findings import Floats
from feedwright.wear.pooled import PooledLife, log_ratio_of

FEED_PATH = ("drive", "tube", "hot end")
"""Places whose parts a blanket calendar renews."""
CALENDARS = (8, 13, 26, 52)
"""Weeks between the rounds of the blanket calendars tried."""
FIXED_FRAC = 0.7
"""Share of the rule of thumb's median life at which the fixed-exposure policy renews (assumed)."""
ALONG_FRAC = 0.85
"""Share of its best age from which a part is renewed along with another job, as advised."""
SEED = 1


@dataclass(frozen=True, slots=True)
class PolicyStudy:
    """The outcome of every policy, the cheapest first."""

    years: float
    farms: int
    machines: int
    parts: int
    currency: str
    outcomes: tuple[PolicyOutcome, ...]


def study(
    store: Store, now_utc: datetime, *, years: float = 3.0, farms: int = 400, executor: Executor | None = None
) -> PolicyStudy:
    """Live the farm through under a blanket calendar, to failure, by fixed exposure and as advised."""
    within("years", years, 0.1, 50, "years")
    within("farms", farms, 2, 100_000)
    fitted = sorted(fitted_parts(store, now_utc), key=lambda part: part.machine.id)
    in_use = [part for part in fitted if part.pace.exposure_per_day > 0]
    if not in_use:
        raise Conflict(
            "policy", expected="no machine has printed lately, so nothing would wear",
            remedy="log runs first with `feedwright run add`",
        )  # fmt: skip
    kinds = load_catalogue().parts
    lives, costs = farm_lives(store), costs_of_machines(store, now_utc)
    judgement = Judgement(
        lives,
        [part.fitting for part in in_use],
        {part.fitting.id: part.pace for part in in_use},
        lambda fitting: costs[fitting.machine_id].of(kinds[fitting.part_kind]),
    )
    draw = np.random.default_rng(SEED)
    numbered = {machine: at for at, machine in enumerate(dict.fromkeys(part.machine.id for part in in_use))}
    parts = [_in_place(part, numbered[part.machine.id], costs[part.machine.id], lives, draw, farms) for part in in_use]
    policies = _policies(in_use, judgement)
    minute = next(iter(costs.values())).minute_cost
    outcomes = simulate(parts, policies, years=years, farms=farms, minute_cost=minute, executor=executor)
    cheapest = sorted(outcomes, key=lambda outcome: outcome.mean["cost"])
    currency = figures(store).currency
    return PolicyStudy(years, farms, len(numbered), len(parts), currency, tuple(cheapest))


def _in_place(
    part: FittedPart, machine: int, costs: CostOfMachine, lives: FarmLives, draw: np.random.Generator, farms: int
) -> PartInPlace:
    kind = part.kind
    medians, shapes = drawn_lives(lives.life(kind.id), part.machine.id, part.fitting.product, draw, farms)
    return PartInPlace(
        machine, part.pace.exposure_per_day, part.outlook.exposure.mid, medians, shapes,
        kind.life.distribution == "lognormal", costs.of(kind), costs.parts_cost(kind),
        kind.renewal.minutes.value + costs.tram_minutes(kind), costs.unplanned_minutes, kind.spoils_frac.value,
        costs.look_minutes(kind), worn_from_frac(kind), costs.heat_minutes(kind), costs.tram_minutes(kind),
        0.5 * costs.run_h,
    )  # fmt: skip


def drawn_lives(
    life: PooledLife, machine_id: int, product: str, draw: np.random.Generator, farms: int
) -> tuple[Floats, Floats]:
    """True median and shape in each farm, drawn from the belief about such parts in their place."""
    weight = life.weight_of(machine_id, product).sum(axis=0)
    picked = draw.choice(weight.size, size=farms, p=weight.ravel())
    over, at = np.divmod(picked, weight.shape[1])
    log_ratio = log_ratio_of(life.kind, product)[0]
    return np.exp(life.grid.log_median[over] + log_ratio), np.exp(life.grid.log_shape[at])


def _policies(parts: Sequence[FittedPart], judgement: Judgement) -> list[Policy]:
    fixed = [FIXED_FRAC * median_life(part.kind, part.fitting.product) for part in parts]
    calendars = [
        Policy(f"feed path every {weeks} weeks", tuple(_by_calendar(part, weeks) for part in parts))
        for weeks in CALENDARS
    ]
    return [
        Policy("as advised", tuple(_advised(part, judgement) for part in parts)),
        Policy("run to failure", (PartRule(),) * len(parts)),
        Policy("by fixed exposure", tuple(PartRule(age=age) for age in fixed)),
        *calendars,
    ]


def _by_calendar(part: FittedPart, weeks: int) -> PartRule:
    """The feed path is renewed in rounds; all else runs to failure."""
    return PartRule(every_weeks=weeks) if part.kind.place in FEED_PATH else PartRule()


def _advised(part: FittedPart, judgement: Judgement) -> PartRule:
    optimum, looks = judgement.plan(part.fitting)
    if math.isfinite(optimum.exposure) and optimum.cost_rate <= looks.cost_rate:
        return PartRule(age=optimum.exposure, along_from=ALONG_FRAC * optimum.exposure)
    return PartRule(look_every=looks.every)
