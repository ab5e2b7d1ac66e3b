"""Parts of results as JSON: fields under their own names, findings, pressures in psi, moments."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from planner.constants import KPA_PER_PSI
from planner.problems import Finding


def fields(record: object, *names: str) -> dict[str, Any]:
    """Some fields of a record, each under its own name."""
    return {name: getattr(record, name) for name in names}


def finding_result(finding: Finding) -> dict[str, Any]:
    """A finding with its place in the profile."""
    return fields(finding, "level", "code", "message", "fix", "line", "column")


def findings_result(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Findings without a place, as where there is no profile."""
    return [fields(finding, "level", "code", "message", "fix") for finding in findings]


def psi(kpa: float | None) -> float | None:
    """A pressure in psi; None where it is not known."""
    return None if kpa is None else kpa / KPA_PER_PSI


def moment(at: datetime | None) -> str | None:
    """A moment as ISO 8601, to the second; None where it is not known."""
    return None if at is None else at.isoformat(timespec="seconds")
