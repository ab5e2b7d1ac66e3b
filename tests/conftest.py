"""What pytest needs to know of this folder, and how far random searches go.

Without an option each search is short, and the same on every run: few enough examples for every push. With `--long`
it is a hundred times as long and more, and other on every run: `python3 tests/run.py --long`, or with the file of a
search.
"""

from __future__ import annotations

import gc
import json
import os
from types import ModuleType

import pytest
from hypothesis import HealthCheck, Phase, settings

os.environ["COLUMNS"] = "80"  # what is printed is the same at every terminal

collect_ignore = ["run.py"]  # starts pytest itself

PHASES = (Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink)
SLOW = (HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large)

settings.register_profile(
    "short",
    derandomize=True,
    deadline=None,
    max_examples=12,
    phases=PHASES,
    print_blob=False,
    report_multiple_bugs=False,
    suppress_health_check=SLOW,
)
settings.register_profile(
    "long", deadline=None, max_examples=3000, phases=PHASES, report_multiple_bugs=False, suppress_health_check=SLOW
)


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--long`: random searches go on for long."""
    parser.addoption("--long", action="store_true", help="random searches go on for long, and differ on every run")


def pytest_configure(config: pytest.Config) -> None:
    """Before any test is read, since a test takes its settings over as it is defined."""
    settings.load_profile("long" if config.getoption("long") else "short")


def pytest_collection_finish() -> None:
    """What is loaded by now lives to the end: to search it for garbage over and over took a seventh of the run."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(5000, 20, 100)


@pytest.fixture
def read_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forms are read in this process, not in one of their own: to start that takes longer than to read."""

    def answer(module: ModuleType, *arguments: str) -> object:
        module.load()
        return json.loads(json.dumps(module.answer(*arguments)))

    for reader in ("planner.request.read", "planner.readings.form"):
        monkeypatch.setattr(f"{reader}.apart", answer)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """`@pytest.mark.longer("seed", few, many)`: a test for each of the few values, or of the many with `--long`."""
    for mark in metafunc.definition.iter_markers("longer"):
        name, few, many = mark.args
        metafunc.parametrize(name, many if metafunc.config.getoption("long") else few)
