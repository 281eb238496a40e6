"""All machines together: which choice of each, so that hours, rounds and short parts suffice, at least total cost.

A linear program over whole choices of machines. Its prices on hours, rounds and parts ask each machine for a better
choice, until there is none (column generation; Dantzig & Wolfe 1960): its value is then a proved bound, and far nearer
to the truth than that of a program over single tasks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feedwright.planning.rounds_machine import FEASIBLE, MachineSpread, Prices, mask_of
from feedwright.planning.rounds_values import Choice, RoundsProblem
from feedwright.wear.life import Floats

NO_ROWS, NO_VALUES = np.array([], dtype=np.int32), np.array([])
SOLVED = 2
"""How the solver says that it has a solution."""


@dataclass(frozen=True, slots=True)
class Relaxed:
    """The linear program at its optimum: its value, and its prices."""

    value: float
    machine: Floats
    """What it pays for a choice of each machine, (machines,)."""
    prices: tuple[Prices, ...]
    """What it charges each machine."""
    minute_price: Floats
    """What it charges for a minute of each day, (days,)."""
    dual: Floats
    """The same as prices of its rows."""
    solved: bool
    """False where what is settled leaves no room for the rest."""


@dataclass(frozen=True, slots=True)
class Column:
    """One choice of one machine, as the program sees it."""

    machine: int
    choice: Choice
    cost: float
    minutes: tuple[float, ...]
    """On each day."""
    rows: tuple[int, ...]
    values: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """All columns side by side: their entries in one row, so that each question to them is one pass."""

    count: int
    machine: NDArray[np.int64]
    cost: Floats
    begins: NDArray[np.int64]
    """Where each column's entries begin."""
    rows: NDArray[np.int64]
    values: Floats

    @classmethod
    def of(cls, columns: Sequence[Column]) -> "Sheet":
        """The sheet of these columns."""
        lengths = [len(column.rows) for column in columns]
        return cls(
            len(columns), np.array([column.machine for column in columns]),
            np.array([column.cost for column in columns]),
            np.concatenate([[0], np.cumsum(lengths)[:-1]]).astype(np.int64),
            np.array([row for column in columns for row in column.rows]),
            np.array([value for column in columns for value in column.values]),
        )  # fmt: skip

    def fits(self, room: Floats) -> NDArray[np.bool_]:
        """Which columns use no more of any row than there is room."""
        return np.logical_and.reduceat(room[self.rows] >= self.values - FEASIBLE, self.begins)

    def over(self, dual: Floats) -> Floats:
        """What each costs more than the program pays for it."""
        return self.cost - np.add.reduceat(dual[self.rows] * self.values, self.begins)


class Master:
    """The program over whole choices; choices are added as they are found."""

    def __init__(self, problem: RoundsProblem, spreads: list[MachineSpread]) -> None:
        import highspy

        self.columns: list[Column] = []
        self._problem, self._spreads = problem, spreads
        self._known: dict[tuple[int, Choice], int] = {}
        self._parts = sorted(problem.supplies or {})
        self._inf = highspy.kHighsInf
        self._model = _solver()
        self._lay_rows()
        self._settled, self._room, self._held = set[int](), self._all_room(), Sheet.of(())

    def _lay_rows(self) -> None:
        """Rows: one choice a machine; hours a day; a stop needs its round; parts that are there by each day."""
        days, machines, model = self._problem.days, len(self._spreads), self._model
        for _ in range(machines):
            model.addRow(1.0, 1.0, 0, NO_ROWS, NO_VALUES)
        for _ in range(days + machines * days):
            model.addRow(-self._inf, 0.0, 0, NO_ROWS, NO_VALUES)
        for part in self._parts:
            for there in (self._problem.supplies or {})[part]:
                model.addRow(-self._inf, float(there), 0, NO_ROWS, NO_VALUES)
        self._hours, self._links = machines, machines + days
        self._supply = machines + days + machines * days
        cost = self._problem.round_minutes * self._problem.minute_cost
        for day, left in enumerate(self._problem.left_minutes):
            rows = [self._hours + day, *(self._links + machine * days + day for machine in range(machines))]
            self._add_column(cost, 1.0 if left > 0 else 0.0, rows, [-left, *[-1.0] * machines])

    def _add_column(self, cost: float, most: float, rows: Sequence[int], values: Sequence[float]) -> None:
        self._model.addCol(cost, 0.0, most, len(rows), np.array(rows, dtype=np.int32), np.array(values))

    def add(self, machine: int, choice: Choice) -> bool:
        """Add a choice of a machine; False where it is known."""
        if (machine, choice) in self._known:
            return False
        column = self._column(machine, choice)
        self._add_column(column.cost, self._inf, column.rows, column.values)
        self._known[machine, choice] = len(self.columns)
        self.columns.append(column)
        return True

    def _column(self, machine: int, choice: Choice) -> Column:
        spread, days = self._spreads[machine], self._problem.days
        minutes = tuple(spread.minutes_on(choice, day) for day in range(days))
        rows, values = [machine], [1.0]
        for day in sorted(set(choice) - {-1}):
            rows += [self._hours + day, self._links + machine * days + day]
            values += [minutes[day], 1.0]
        for number, part in enumerate(self._parts):
            for day, taken in enumerate(_taken_by(spread, choice, part, days)):
                if taken:
                    rows.append(self._supply + number * days + day)
                    values.append(float(taken))
        return Column(machine, choice, spread.cost_of(choice), minutes, tuple(rows), tuple(values))

    def relax(self) -> Relaxed:
        """Solve the linear program over the choices known so far."""
        self._model.run()
        days, machines = self._problem.days, len(self._spreads)
        dual = np.array(self._model.getSolution().row_dual)
        hours = np.maximum(-dual[self._hours : self._links], 0.0)
        links = np.maximum(-dual[self._links : self._supply], 0.0).reshape(machines, days)
        supply = np.maximum(-dual[self._supply :], 0.0).reshape(len(self._parts), days)
        by_day = np.flip(np.cumsum(np.flip(supply, axis=1), axis=1), axis=1)  # a part taken is gone on all later days
        prices = tuple(
            Prices(hours, links[number], self._part_prices(spread, by_day))
            for number, spread in enumerate(self._spreads)
        )
        info = self._model.getInfo()
        value, solved = float(info.objective_function_value), info.primal_solution_status == SOLVED
        return Relaxed(value, dual[:machines], prices, hours, dual, solved)

    def _part_prices(self, spread: MachineSpread, by_day: Floats) -> Floats:
        prices = np.zeros((self._problem.days, len(spread.work.tasks)))
        for bit, task in enumerate(spread.work.tasks):
            for part, count in task.needs:
                if part in self._parts:
                    prices[:, bit] += count * by_day[self._parts.index(part)]
        return prices

    def left(self) -> Floats:
        """Minutes that the settled choices leave of each day, (days,)."""
        return self._room[self._hours : self._links]

    def surest(self, share: float) -> list[Column]:
        """Settle choices: those that the program takes this share of, or the one it takes most of, where they fit.

        They are taken whole from now on, and what no longer fits beside them is out.
        """
        values = np.array(self._model.getSolution().col_value)[self._problem.days :]
        sure = list[Column]()
        for number in np.argsort(-values).tolist():
            if (values[number] < share and sure) or values[number] <= 0:
                break
            column = self.columns[number]
            fits = np.all(self._room[list(column.rows)] >= np.array(column.values) - FEASIBLE)
            if column.machine not in self._settled and fits:
                self._settle(number)
                sure.append(column)
        self._rule_out()
        return sure

    def settle(self, choices: Mapping[int, Choice]) -> None:
        """Settle these machines' choices, which are known and fit together."""
        for machine, choice in choices.items():
            self._settle(self._known[machine, choice])
        self._rule_out()

    def _settle(self, number: int) -> None:
        column = self.columns[number]
        self._settled.add(column.machine)
        self._room[list(column.rows)] -= column.values
        self._model.changeColBounds(self._problem.days + number, 1.0, self._inf)

    def _rule_out(self) -> None:
        sheet = self._sheet()
        out = ~sheet.fits(self._room) & ~np.isin(sheet.machine, list(self._settled))
        self._bound_columns(np.flatnonzero(out), 0.0)

    def _sheet(self) -> Sheet:
        if self._held.count != len(self.columns):
            self._held = Sheet.of(self.columns)
        return self._held

    def _bound_columns(self, numbers: NDArray[np.intp], high: float) -> None:
        which = (self._problem.days + numbers).astype(np.int32)
        self._model.changeColsBounds(which.size, which, np.zeros(which.size), np.full(which.size, high))

    def unsettle(self) -> None:
        """Let every choice be taken or not, as at first."""
        self._settled, self._room = set(), self._all_room()
        self._bound_columns(np.arange(len(self.columns)), self._inf)

    def _all_room(self) -> Floats:
        """What choices may use of each row."""
        machines, days = len(self._spreads), self._problem.days
        there = [there for part in self._parts for there in (self._problem.supplies or {})[part]]
        return np.array([*[1.0] * machines, *self._problem.left_minutes, *[1.0] * machines * days, *there])

    def whole(
        self, relaxed: Relaxed, room: float, *, enough: float, limit_s: float
    ) -> tuple[list[Choice] | None, float]:
        """The best whole choices, and the bound on them: settled ones, else of no more than their price and ``room``.

        Ends where it costs no more than ``enough``; None where none was found in that time. A start is not handed over:
        with one, the solver's presolve has called optimal what was not (HiGHS 1.16).
        """
        import highspy

        model = _solver(time_limit=limit_s, mip_rel_gap=1e-7, objective_target=enough)
        held = self._model.getLp()
        held.integrality_ = [highspy.HighsVarType.kInteger] * held.num_col_
        sheet, high = self._sheet(), np.array(held.col_upper_)
        dear = (sheet.over(relaxed.dual) > room) & ~np.isin(sheet.machine, list(self._settled))
        high[self._problem.days :][dear] = 0.0
        held.col_upper_ = high.tolist()
        model.passModel(held)
        model.run()
        info = model.getInfo()
        bound = float(info.mip_dual_bound)
        if info.primal_solution_status != SOLVED:
            return None, bound
        values = np.array(model.getSolution().col_value)[self._problem.days :]
        taken = [self.columns[column] for column in np.flatnonzero(values > 0.5)]
        return [column.choice for column in sorted(taken, key=lambda column: column.machine)], bound


def _solver(**options: float) -> Any:
    """A solver that says nothing; the library's own wrapper greets on stdout before it can be told not to."""
    import highspy

    model: Any = highspy._Highs()  # type: ignore[attr-defined]
    for name, value in {"output_flag": False, "threads": 1, **options}.items():
        model.setOptionValue(name, value)
    return model


def _taken_by(spread: MachineSpread, choice: Choice, part: str, days: int) -> list[int]:
    """Pieces of a part that a choice has taken by each day."""
    taken, gone = [], 0
    for day in range(days):
        held = mask_of(choice, day)
        gone += sum(
            count for bit, task in enumerate(spread.work.tasks) if held >> bit & 1 for name, count in task.needs
            if name == part
        )  # fmt: skip
        taken.append(gone)
    return taken
