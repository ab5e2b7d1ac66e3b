"""Stand-in for the solver's Python binding: the same solver, compiled to WebAssembly, behind the names that are used.

The page puts the solver's module under `solver` into Python's view of the worker before a store is planned.
"""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import js
from pyodide.ffi import to_js


def _sparse(indices: Sequence[int], values: Sequence[float]) -> Any:
    return to_js(
        {"indices": list(indices), "values": [float(value) for value in values]}, dict_converter=js.Object.fromEntries
    )


kHighsInf = float("inf")
HighsVarType = SimpleNamespace(kContinuous=0, kInteger=1)
HighsModelStatus = SimpleNamespace(kOptimal=7, kInfeasible=8)
SolutionStatus = SimpleNamespace(kSolutionStatusNone=0, kSolutionStatusInfeasible=1, kSolutionStatusFeasible=2)


class Highs:
    """One model. What the solver refuses raises `RuntimeError`."""

    def __init__(self) -> None:
        self._model = js.solver.raw.createModel()

    def __del__(self) -> None:
        self._model.dispose()

    def setOptionValue(self, name: str, value: Any) -> None:
        self._model.setOptionValue(name, value)  # an option that this build lacks, such as threads, stays as it is

    def addCol(
        self, cost: float, low: float, high: float, _number: int, indices: Sequence[int], values: Sequence[float]
    ) -> None:
        self._done(self._model.addCol(cost, low, high, _sparse(indices, values)))

    def addRow(self, low: float, high: float, _number: int, indices: Sequence[int], values: Sequence[float]) -> None:
        self._done(self._model.addRow(low, high, _sparse(indices, values)))

    def changeColIntegrality(self, column: int, kind: int) -> None:
        self._done(self._model.changeColIntegrality(column, kind))

    def changeColCost(self, column: int, cost: float) -> None:
        self._done(self._model.changeColCost(column, cost))

    def run(self) -> None:
        self._done(self._model.run())

    def getModelStatus(self) -> int:
        return int(self._model.getModelStatus())

    def getInfo(self) -> Any:
        return SimpleNamespace(
            primal_solution_status=int(self._value("primal_solution_status")),
            objective_function_value=float(self._value("objective_function_value")),
            mip_dual_bound=float(self._value("mip_dual_bound")),
        )

    def getSolution(self) -> Any:
        found = self._model.getSolution()
        return SimpleNamespace(col_value=list(found.value.colValue.to_py()))

    def _value(self, name: str) -> Any:
        return self._model.getInfoValue(name).value

    @staticmethod
    def _done(result: Any) -> None:
        if int(result.status) < 0:
            raise RuntimeError("the solver refused a call")
