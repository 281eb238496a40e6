"""Rounds of service: our method beside a general-purpose solver on the whole model, and two ways of doing without.

``python benchmarks/bench_rounds.py [--machines 50 300] [--parts 8] [--days 12] [--limit-s 10 60] [--seed 1]``

Machines with so many worn parts each, so many possible round days within 28, hours that are short. Both get the same
costs, minutes (own work, and pieces of work that tasks of a visit share: opening, heating, tramming) and hours, the
same time and one thread. A gap is what a method itself proves; "above the best bound" holds each plan against the best
bound that either proved. The two ways of doing without: each task by itself when due, and monthly rounds of everything.
"""

import argparse
import time

import numpy as np

from feedwright.planning.rounds import plan_rounds
from feedwright.planning.rounds_against import all_at_once, when_due
from feedwright.planning.rounds_cost import cost_of
from feedwright.planning.rounds_values import MachineWork, RoundsProblem, RoundTask

MINUTE_COST, ROUND_MIN, STOP_MIN = 25.5 / 60, 10.0, 4.0
PIECES_MIN = np.array([9.0, 7.0, 24.0])
"""Opening the feed path, heating up, tramming with its first layer."""
HORIZON_D = 28


def case(machines: int, parts: int, days: int, seed: int) -> tuple[RoundsProblem, list[np.ndarray], list[np.ndarray]]:
    """A farm by chance: the problem, and each machine's own minutes (parts,) and needed pieces (parts, pieces)."""
    draw = np.random.default_rng(seed)
    at_d = np.sort(draw.choice(HORIZON_D, days, replace=False)).astype(float)
    works, owns, needs = [], [], []
    for number in range(machines):
        own = draw.uniform(3, 12, parts).round(1)
        pieces = draw.random((parts, PIECES_MIN.size)) < np.array([0.5, 0.5, 0.25])
        held = (np.arange(1 << parts)[:, None] >> np.arange(parts)) & 1
        minutes = held @ own + ((held @ pieces) > 0) @ PIECES_MIN
        free = np.where(draw.random(days) < 0.15, 0.0, 600.0)
        works.append(MachineWork(number, tuple(task(draw, at_d) for _ in range(parts)), minutes, tuple(free)))
        owns.append(own)
        needs.append(pieces)
    hours = draw.choice([120.0, 180.0, 240.0], days) * machines / 50
    problem = RoundsProblem(tuple(hours), tuple(works), MINUTE_COST, ROUND_MIN, STOP_MIN)
    return problem, owns, needs


def task(draw: np.random.Generator, at_d: np.ndarray) -> RoundTask:
    """A part with a best moment, dearer to renew before it, and ever dearer after it."""
    best_d, early, late = draw.uniform(-20, 120), draw.uniform(0.02, 0.3), draw.uniform(0.05, 0.6)

    def cost(on_d: float) -> float:
        over = on_d - max(best_d, 0.0)
        return float(early * -over if over < 0 else late * over * (1 + over / 14))

    group = int(max(0.0, best_d - HORIZON_D) // HORIZON_D)
    return RoundTask(0, tuple(map(cost, at_d)), max(0.0, cost(HORIZON_D + 3.0) if best_d < HORIZON_D else 0.0), group)


def whole_model(
    problem: RoundsProblem, owns: list[np.ndarray], needs: list[np.ndarray], limit_s: float
) -> tuple[float, float, float]:
    """The same in one mixed-integer program over single tasks, by HiGHS; cost, bound and seconds."""
    import highspy

    model = highspy.Highs()
    model.silent()
    model.setOptionValue("threads", 1)
    model.setOptionValue("time_limit", limit_s)
    days, inf, minute = problem.days, highspy.kHighsInf, problem.minute_cost
    begun = time.perf_counter()
    rounds = [model.addBinary(obj=problem.round_minutes * minute) for _ in range(days)]
    used = [problem.round_minutes * rounds[day] for day in range(days)]
    for work, own, pieces in zip(problem.machines, owns, needs, strict=True):
        groups = sorted({task.later_group for task in work.tasks})
        slots = [*range(days), *(days + group for group in groups)]
        done = {}
        for slot in slots:
            late = slot >= days
            stop = model.addBinary(obj=problem.stop_minutes * minute)
            piece = [model.addBinary(obj=float(spent) * minute) for spent in PIECES_MIN]
            if not late:
                used[slot] += problem.stop_minutes * stop
                for held, spent in zip(piece, PIECES_MIN.tolist(), strict=True):
                    used[slot] += spent * held
                model.addConstr(stop <= rounds[slot])
            for bit, task in enumerate(work.tasks):
                if late and task.later_group != slot - days:
                    continue
                cost = task.later_cost if late else task.cost[slot]
                closed = not late and work.free_minutes[slot] == 0
                one = model.addVariable(
                    lb=0, ub=0 if closed else 1, obj=cost + float(own[bit]) * minute, type=highspy.HighsVarType.kInteger
                )
                done[bit, slot] = one
                model.addConstr(one <= stop)
                for held, wanted in zip(piece, pieces[bit].tolist(), strict=True):
                    if wanted:
                        model.addConstr(one <= held)
                if not late:
                    used[slot] += float(own[bit]) * one
        for bit in range(len(work.tasks)):
            model.addConstr(sum(one for (task, _), one in done.items() if task == bit) == 1)
    for day in range(days):
        model.addConstr(used[day] <= problem.hours_minutes[day] * rounds[day])
    model.run()
    info = model.getInfo()
    cost = info.objective_function_value
    return (cost if cost < inf else np.inf), info.mip_dual_bound, time.perf_counter() - begun


def main(sizes: list[int], limits: list[float], parts: int, days: int, seed: int) -> None:
    warm, *_ = case(2, 3, 3, 0)
    plan_rounds(warm)
    print(f"{parts} parts a machine, {days} possible round days in {HORIZON_D}, hours short; one thread each")
    for machines, limit_s in zip(sizes, limits, strict=True):
        problem, owns, needs = case(machines, parts, days, seed)
        begun = time.perf_counter()
        ours = plan_rounds(problem, limit_s=limit_s)
        took = time.perf_counter() - begun
        cost, bound, whole_s = whole_model(problem, owns, needs, limit_s)
        total, best = ours.cost.total, max(bound, ours.bound)
        print(f"\n{machines} machines, {limit_s:g} s allowed")
        print(f"{'':34} {'cost':>9} {'gap':>8} {'above best bound':>17} {'seconds':>8}")
        for name, value, gap, seconds in (
            ("whole choices (ours)", total, ours.gap_frac, took),
            ("whole model (general solver)", cost, 1 - bound / cost, whole_s),
        ):
            print(f"{name:34} {value:9.1f} {gap:8.3%} {value / best - 1:17.3%} {seconds:8.1f}")
        for name, value in (
            ("(a) each task alone when due", when_due(problem).total),
            ("(b) monthly rounds of everything", cost_of(problem, all_at_once(problem)).total),
        ):
            print(f"{name:34} {value:9.1f} {'':8} {value / best - 1:17.1%} {value / total:7.2f} times ours")


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--machines", type=int, nargs="+", default=[50, 300])
    asked.add_argument("--limit-s", type=float, nargs="+", default=[10.0, 60.0])
    asked.add_argument("--parts", type=int, default=8)
    asked.add_argument("--days", type=int, default=12)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    main(given.machines, given.limit_s, given.parts, given.days, given.seed)
