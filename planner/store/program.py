"""An integer program: rows and columns put to a general solver, goals one after another.

Each goal is made as small as it can be; what it reached then becomes a condition of the next. The work is limited by
nodes, which gives the same answer on every machine, and by a time limit far above it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf, isfinite
from typing import Any, Final, NamedTuple

NODES: Final = 3000
"""Nodes of the search tree for one goal."""

LONGEST_S: Final = 20.0
"""Time limit for one goal: a backstop, nodes run out first."""

Terms = Mapping[int, float]


class Goal(NamedTuple):
    """What is to be least: costs of columns, and how far above its least value the next goals may let it rise."""

    costs: Terms
    slack: float


class Solution(NamedTuple):
    """Values of the columns; `bounds` gives, for each goal that was not proven to be least, how low it might be."""

    values: tuple[float, ...]
    reached: tuple[float, ...]
    bounds: Mapping[int, float]

    def taken(self, column: int) -> bool:
        """True where a column that is 0 or 1 is 1."""
        return self.values[column] > 0.5


class IntegerProgram:
    """Columns and rows of one integer program."""

    def __init__(self) -> None:
        import highspy  # for a store alone: most plans do without

        self._library: Any = highspy
        self._solver: Any = highspy.Highs()
        options = {
            "output_flag": False,
            "log_to_console": False,
            "threads": 1,
            "presolve": "on",
            "mip_rel_gap": 0.0,
            "mip_abs_gap": 1e-7,
        }
        for name, value in {**options, "mip_max_nodes": NODES, "time_limit": LONGEST_S}.items():
            self._solver.setOptionValue(name, value)
        self._solver.addCol(0.0, 0.0, 0.0, 0, [], [])  # a program without columns would have no answer
        self._columns = 1
        self.impossible = False
        self.reached: list[float] = []
        """What the goals so far reached, in their order."""

    def choice(self) -> int:
        """A new column that is 0 or 1; its number."""
        self._solver.addCol(0.0, 0.0, 1.0, 0, [], [])
        self._solver.changeColIntegrality(self._columns, self._library.HighsVarType.kInteger)
        self._columns += 1
        return self._columns - 1

    def share(self, most: float = inf) -> int:
        """A new column of any value from 0 to `most`; its number."""
        self._solver.addCol(0.0, 0.0, most if isfinite(most) else self._library.kHighsInf, 0, [], [])
        self._columns += 1
        return self._columns - 1

    def row(self, terms: Terms, *, low: float = -inf, high: float = inf) -> None:
        """The sum of the terms lies between `low` and `high`."""
        kept = {column: factor for column, factor in terms.items() if factor != 0.0}
        unbounded = self._library.kHighsInf
        self._solver.addRow(
            low if isfinite(low) else -unbounded,
            high if isfinite(high) else unbounded,
            len(kept),
            list(kept),
            list(kept.values()),
        )

    def leave_out(self, column: int) -> None:
        """A column is 0 from now on."""
        self._solver.changeColBounds(column, 0.0, 0.0)

    def solved(self, goals: Iterable[Goal]) -> Solution | None:
        """The columns with every goal least in turn; None where no values meet the rows, or none were found.

        Each goal is asked for when the one before is reached, and may add columns and rows of its own first.
        `impossible` tells which of the two.
        """
        self.impossible = False
        values: tuple[float, ...] | None = None
        self.reached = reached = []
        bounds: dict[int, float] = {}
        for number, goal in enumerate(goals):
            for column in range(self._columns):
                self._solver.changeColCost(column, goal.costs.get(column, 0.0))
            self._solver.run()
            status, info = self._solver.getModelStatus(), self._solver.getInfo()
            if info.primal_solution_status != self._library.SolutionStatus.kSolutionStatusFeasible:
                if values is None:
                    self.impossible = status == self._library.HighsModelStatus.kInfeasible
                    return None
                break
            values = tuple(self._solver.getSolution().col_value)
            reached.append(info.objective_function_value)
            if status != self._library.HighsModelStatus.kOptimal:
                bounds[number] = info.mip_dual_bound
            self.row(goal.costs, high=reached[-1] + goal.slack)
        return None if values is None else Solution(values, tuple(reached), bounds)
