"""Change the arithmetic in one place at a time, and see that a test notices: `python tests/mutation/mutants.py`.

Each mutant is one small change of the source: an operator, a comparison, a constant, a condition turned round, a
value not returned, a statement left out. It lives in the memory of one process only; no file is written but the
report. First the module's own tests are run, then the others that call the changed function, the fastest first; of
`TESTS` all, where the change is outside functions. A mutant is killed by the first test that fails, or where the tests
never end.

    python tests/mutation/mutants.py                          # all mutants
    python tests/mutation/mutants.py --sample 300 --seed 6    # so many of them, always the same
    python tests/mutation/mutants.py --only planner/go/sizing.py --jobs 2
    python tests/mutation/mutants.py --list                   # print them, run nothing

Needs `fork`: Linux or macOS. Survivors, and why each does no harm, stand in `survivors.md`.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib.abc
import importlib.machinery
import json
import os
import random
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
MODULES = (
    "planner/gas/compact.py",
    "planner/gas/oxygen.py",
    "planner/gas/air.py",
    "planner/gas/contents.py",
    "planner/gas/atmosphere.py",
    "planner/gas/mixing.py",
    "planner/flow/devices.py",
    "planner/flow/flows.py",
    "planner/cylinders/course.py",
    "planner/cylinders/depletion.py",
    "planner/go/sizing.py",
    "planner/go/whatifs/scenario.py",
    "planner/go/whatif.py",
    "planner/go/totals.py",
    "planner/go/outcome.py",
    "planner/go/worst_minute.py",
    "planner/cylinders/drift.py",
    "planner/cylinders/halving.py",
    "planner/go/departure.py",
    "planner/cylinders/stock.py",
    "planner/cylinders/onhand.py",
    "planner/flow/outlets.py",
    "planner/go/judge.py",
    "planner/go/gauges.py",
    "planner/go/checkpoints.py",
    "planner/go/margins.py",
)
TESTS = (
    "tests/published",
    "tests/test_devices.py",
    "tests/test_demand.py",
    "tests/test_depletion.py",
    "tests/test_drift.py",
    "tests/test_departure.py",
    "tests/test_sizing.py",
    "tests/test_stock.py",
    "tests/test_checkpoints.py",
    "tests/test_whatif.py",
    "tests/test_worst_minute.py",
    "tests/test_judge.py",
    "tests/test_outlets.py",
    "tests/test_margins.py",
    "tests/test_edges.py",
    "tests/test_controls.py",
    "tests/test_hand_trips.py",
    "tests/test_good_profiles.py",
    "tests/properties/test_other_minutes.py",
)
LIMIT_CPU_S, LIMIT_CPU_NEAR_S = 90, 15
"""Seconds of work after which the tests count as never ending: all take about 10 s, those near a function 3 s."""
MOST_NEAR = 80
OWN = {
    "planner/cylinders/course.py": "tests/test_depletion.py",
    "planner/cylinders/halving.py": "tests/test_sizing.py",
    "planner/go/outcome.py": "tests/test_whatif.py",
    "planner/go/totals.py": "tests/test_whatif.py",
    "planner/go/whatifs/scenario.py": "tests/test_whatif.py",
}
"""Tests of a module whose name does not tell."""
LIMIT_MEMORY = 3 << 30

ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
}
COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
SWAPPED_CALLS = {"max": "min", "min": "max", "any": "all", "all": "any", "ceil": "int", "sorted": "list", "fsum": "max"}


@dataclass(frozen=True)
class Mutant:
    """One change: where, what, in which function, and its number among the changes of its module."""

    module: str
    line: int
    column: int
    what: str
    function: str
    index: int

    @property
    def name(self) -> str:
        """File, line, column and the change."""
        return f"{self.module}:{self.line}:{self.column}  {self.what}"


# --- making mutants ---


class _Collect(ast.NodeVisitor):
    """Walks a module and keeps, for each possible change, the node and its replacement."""

    def __init__(self) -> None:
        self.found: list[tuple[ast.AST, ast.AST, str, str]] = []
        self.names: list[str] = []

    def add(self, old: ast.AST, new: ast.AST) -> None:
        new = ast.copy_location(new, old)
        ast.fix_missing_locations(new)
        self.found.append((old, new, f"{_words(old)}  ->  {_words(new)}", ".".join(self.names)))

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self.names.append(node.name)
        for default in (*node.args.defaults, *node.args.kw_defaults):
            if default is not None:
                self.visit(default)
        for statement in node.body:
            self.visit(statement)
        self.names.pop()

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self.names.append(node.name)
        for statement in node.body:
            self.visit(statement)
        self.names.pop()

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Raise(self, node: ast.Raise) -> None:
        """What a refusal says is held by the tests of messages; that it refuses, by the condition above it."""

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Text for people."""

    def visit_BinOp(self, node: ast.BinOp) -> None:
        other = ARITHMETIC.get(type(node.op))
        if other is not None and not _is_type(node):
            self.add(node, ast.BinOp(node.left, other(), node.right))
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        self.add(node, node.operand)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        self.add(node, ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values))
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        for index, operator in enumerate(node.ops):
            for other in COMPARISONS[type(operator)]:
                operators = [*node.ops[:index], other(), *node.ops[index + 1 :]]
                self.add(node, ast.Compare(node.left, operators, node.comparators))
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if isinstance(value, bool):
            self.add(node, ast.Constant(not value))
        elif isinstance(value, int):
            self.add(node, ast.Constant(value + 1))
        elif isinstance(value, float):
            self.add(node, ast.Constant(value * 1.01 if abs(value) >= 1e-3 else value + 0.5))
        elif isinstance(value, str):
            self.add(node, ast.Constant(f"{value}?"))

    def visit_Call(self, node: ast.Call) -> None:
        if isinstance(node.func, ast.Name) and node.func.id in SWAPPED_CALLS:
            keywords = [] if node.func.id == "sorted" else node.keywords
            self.add(node, ast.Call(ast.Name(SWAPPED_CALLS[node.func.id], ast.Load()), node.args, keywords))
        self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        self._turn(node.test)
        self.generic_visit(node)

    def visit_While(self, node: ast.While) -> None:
        self._turn(node.test)
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self._turn(node.test)
        self.generic_visit(node)

    def visit_comprehension(self, node: ast.comprehension) -> None:
        for test in node.ifs:
            self._turn(test)
        self.generic_visit(node)

    def _turn(self, test: ast.expr) -> None:
        if not isinstance(test, ast.Compare | ast.UnaryOp):  # these have mutants of the same kind
            self.add(test, ast.UnaryOp(ast.Not(), test))

    def visit_Return(self, node: ast.Return) -> None:
        if node.value is not None and not (isinstance(node.value, ast.Constant) and node.value.value is None):
            self.add(node, ast.Return(ast.Constant(None)))
        elif node.value is not None:
            self.add(node, ast.Return(ast.Constant(0.0)))
        self.generic_visit(node)

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):  # a docstring
            if isinstance(node.value, ast.Call):
                self.add(node, ast.Pass())
            self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        other = ARITHMETIC.get(type(node.op))
        if other is not None:
            self.add(node, ast.AugAssign(node.target, other(), node.value))
        self.add(node, ast.Pass())
        self.generic_visit(node)

    def visit_Continue(self, node: ast.Continue) -> None:
        self.add(node, ast.Break())

    def visit_Break(self, node: ast.Break) -> None:
        self.add(node, ast.Continue())


def _is_type(node: ast.BinOp) -> bool:
    return any(isinstance(side, ast.Constant) and side.value is None for side in (node.left, node.right))


def _words(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 90 else f"{text[:87]}..."


def _collect(module: str) -> tuple[ast.Module, _Collect]:
    tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
    collect = _Collect()
    collect.visit(tree)
    return tree, collect


def mutants_of(module: str) -> Iterator[Mutant]:
    """All mutants of a module, in the order of its text."""
    for index, (old, _, what, function) in enumerate(_collect(module)[1].found):
        yield Mutant(module, getattr(old, "lineno", 0), getattr(old, "col_offset", 0) + 1, what, function, index)


def changed(mutant: Mutant) -> ast.Module:
    """The whole module with the one change."""
    tree, collect = _collect(mutant.module)
    old, new, _, _ = collect.found[mutant.index]
    memo: dict[int, Any] = {id(old): copy.deepcopy(new)}
    return copy.deepcopy(tree, memo)


# --- running tests in a process of their own ---


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives the changed module in place of the one on disk."""

    def __init__(self, mutant: Mutant) -> None:
        self.name = mutant.module.removesuffix(".py").replace("/", ".")
        self.path = str(ROOT / mutant.module)
        self.code: CodeType = compile(changed(mutant), self.path, "exec")

    def find_spec(self, fullname: str, *_: object) -> importlib.machinery.ModuleSpec | None:
        if fullname != self.name:
            return None
        return importlib.machinery.ModuleSpec(fullname, self, origin=self.path)

    def exec_module(self, module: ModuleType) -> None:
        module.__file__ = self.path
        exec(self.code, module.__dict__)  # noqa: S102 - the mutant is the point


class _Chosen:
    """Keeps only the chosen tests, in the order given."""

    def __init__(self, tests: Sequence[str] | None) -> None:
        self.order = None if tests is None else {name: index for index, name in enumerate(tests)}

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        if self.order is not None:
            order = self.order
            items[:] = sorted((i for i in items if i.nodeid in order), key=lambda item: order[item.nodeid])


class _Watch:
    """Notes which functions of the modules each test calls, and how long it takes."""

    def __init__(self) -> None:
        self.paths = {str(ROOT / module): module for module in MODULES}
        self.called: dict[str, set[tuple[str, str]]] = {}
        self.seconds: dict[str, float] = {}
        self.failed: list[str] = []

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        called = self.called.setdefault(item.nodeid, set())
        paths = self.paths

        def note(frame: Any, event: str, _: Any) -> None:
            if event == "call" and frame.f_code.co_filename in paths:
                called.add((paths[frame.f_code.co_filename], frame.f_code.co_qualname))

        start = time.perf_counter()
        sys.setprofile(note)
        try:
            return (yield)
        finally:
            sys.setprofile(None)
            self.seconds[item.nodeid] = time.perf_counter() - start

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(report.nodeid)


def _pytest(arguments: Sequence[str], plugin: object) -> int:
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    return int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", *arguments], plugins=[plugin]))


def _in_child(job: Any, limit_s: int = LIMIT_CPU_S) -> int:
    """The exit status of a job in a forked process; above 99 where a signal ended it."""
    child = os.fork()
    if child == 0:
        status = 98
        try:
            nothing = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nothing, stream)
            import resource

            sys.dont_write_bytecode = True
            resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s))
            resource.setrlimit(resource.RLIMIT_AS, (LIMIT_MEMORY, LIMIT_MEMORY))
            status = job()
        except BaseException:  # noqa: BLE001 - a mutant may break anything
            status = 97
        os._exit(status)
    _, ended = os.waitpid(child, 0)
    return os.WEXITSTATUS(ended) if os.WIFEXITED(ended) else 100 + os.WTERMSIG(ended)


def _survives(mutant: Mutant, tests: Sequence[str] | None) -> bool:
    def job() -> int:
        sys.meta_path.insert(0, _Changed(mutant))
        files = TESTS if tests is None else tuple(dict.fromkeys(name.split("::")[0] for name in tests))
        return _pytest(files, _Chosen(tests))

    few = tests is not None and len(tests) <= 3 * MOST_NEAR
    return _in_child(job, LIMIT_CPU_NEAR_S if few else LIMIT_CPU_S) == 0


def _calls() -> dict[tuple[str, str], list[str]]:
    """Function of a module to the tests that call it, the fastest first."""
    read, write = os.pipe()

    def job() -> int:
        watch = _Watch()
        status = _pytest(TESTS, watch)
        found: dict[str, list[str]] = {}
        for test in sorted(watch.called, key=watch.seconds.__getitem__):
            for module, function in watch.called[test]:
                found.setdefault(f"{module}::{function}", []).append(test)
        with os.fdopen(write, "w") as out:
            json.dump({"status": status, "failed": watch.failed, "tests": len(watch.called), "found": found}, out)
        return status

    with ThreadPoolExecutor(1) as pool:
        text = pool.submit(lambda: _read_all(read))
        _in_child_keeping(job, write)
        answer = json.loads(text.result() or '{"status": -1, "failed": [], "tests": 0}')
    if answer["status"] != 0:
        sys.exit(f"the tests are not green without a mutant: {answer['failed'] or answer['status']}")
    print(f"{answer['tests']} tests pass without a mutant", flush=True)
    found = answer["found"]
    return {(key.split("::")[0], key.split("::")[1]): tests for key, tests in found.items()}


def _read_all(descriptor: int) -> str:
    with os.fdopen(descriptor) as source:
        return source.read()


def _in_child_keeping(job: Any, write: int) -> None:
    _in_child(job)
    os.close(write)


def _killed(mutant: Mutant, calls: dict[tuple[str, str], list[str]]) -> bool:
    near = [
        test
        for (module, function), tests in calls.items()
        if module == mutant.module and function.replace(".<locals>", "").split(".<")[0] == mutant.function
        for test in tests
    ]
    near = list(dict.fromkeys(near))
    file = OWN.get(mutant.module, f"tests/test_{Path(mutant.module).stem}.py")
    own = [test for test in near if test.split("::")[0] == file]
    others = [test for test in near if test.split("::")[0] != file]
    for tests in (own, others[:MOST_NEAR], others[MOST_NEAR:]):
        if tests and not _survives(mutant, tests):
            return True
    return not near and not _survives(mutant, None)


def _warm() -> None:
    """Load what the tests need and no mutant changes, so that a forked process starts at once."""
    for name in ("CoolProp.CoolProp", "fluids.atmosphere", "jsonschema", "yaml", "click", "pint"):
        importlib.import_module(name)


def main() -> int:
    """Run the mutants and print the survivors; 0 where at least nine of ten were killed."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else None)
    parser.add_argument("--only", action="append", choices=MODULES, help="these modules alone")
    parser.add_argument("--sample", type=int, help="so many mutants, drawn at random")
    parser.add_argument("--seed", type=int, default=6, help="the draw of the sample")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--list", action="store_true", help="print the mutants, run nothing")
    asked = parser.parse_args()
    mutants = [mutant for module in asked.only or MODULES for mutant in mutants_of(module)]
    total = len(mutants)
    if asked.sample is not None and asked.sample < total:
        chosen = sorted(random.Random(asked.seed).sample(range(total), asked.sample))  # noqa: S311 - no secret
        mutants = [mutants[index] for index in chosen]
    if asked.list:
        print(*(mutant.name for mutant in mutants), sep="\n")
        return 0
    _warm()
    calls = _calls()
    start = time.monotonic()
    survivors: list[Mutant] = []
    by_module = {module: [0, 0] for module in MODULES}
    with ThreadPoolExecutor(asked.jobs) as pool:
        jobs = {pool.submit(_killed, mutant, calls): mutant for mutant in mutants}
        for done, job in enumerate(as_completed(jobs), 1):
            mutant = jobs[job]
            by_module[mutant.module][0] += 1
            by_module[mutant.module][1] += job.result()
            if not job.result():
                survivors.append(mutant)
                print(f"survives  {mutant.name}", flush=True)
            if done % 50 == 0:
                print(f"{done} of {len(mutants)}, {time.monotonic() - start:.0f} s", flush=True)
    for module, (tried, killed) in by_module.items():
        if tried:
            print(f"{module:28} {killed:4} of {tried:4} killed, {100.0 * killed / tried:.1f} %")
    killed = len(mutants) - len(survivors)
    share = 100.0 * killed / len(mutants)
    print(f"{killed} of {len(mutants)} mutants killed ({total} possible), {share:.1f} %; survivors:")
    for mutant in sorted(survivors, key=lambda one: (MODULES.index(one.module), one.line, one.column, one.what)):
        print(f"  {mutant.name}")
    return 0 if share >= 90.0 else 1


if __name__ == "__main__":
    sys.exit(main())
