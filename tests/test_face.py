"""What a library user imports from `planner` itself, and that it costs nothing until asked for."""

from __future__ import annotations

import subprocess
import sys

import pytest

import planner
from planner.planning import plan


def test_every_name_is_given() -> None:
    assert planner.plan is plan
    assert all(getattr(planner, name).__name__ == name for name in planner.__all__)


def test_what_is_not_there_is_no_attribute() -> None:
    with pytest.raises(AttributeError, match="no attribute 'plans'"):
        _ = planner.plans


def test_nothing_is_loaded_before_it_is_asked_for() -> None:
    code = "import sys, planner; print([name for name in sys.modules if name.startswith('planner.')])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
