"""Hostile files for every other verb: readings, a trip on the way, a history, a shift, a request, the pages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from tests.fuzz import hostile_forms
from tests.fuzz.hostile import DEVICES, HEAD, TRIP, Files, store_beside, trip

FLIGHT: Final = "legs: [{name: Ride, duration: 24 h, supply: cart, devices: [cannula]}]\n"


def cylinders(many: int, more: str = "") -> str:
    """A sound profile of so many cylinders."""
    rows = ", ".join(f"{{label: K{n}, size: US-E, gauge: {1500 + n % 500} psi}}" for n in range(many))
    return HEAD + f"supplies: {{cart: {{{more}cylinders: [{rows}]}}}}\n" + DEVICES + FLIGHT


def readings(many: int) -> bytes:
    """Readings of one hour with a change of cylinder at which nobody read a gauge."""
    half = many // 2
    gauges = [(f"K{n // half}", 1500 - n % half // 2) for n in range(2 * half)]
    rows = [f"{n * 60 / many:.3f} min,{label},{gauge} psi" for n, (label, gauge) in enumerate(gauges)]
    return ("time,cylinder,gauge\n" + "\n".join(rows) + "\n").encode()


def taken_in_turn(many: int) -> bytes:
    """Readings of two cylinders in turn, which tell nothing of when each was in use."""
    rows = [f"{n * 60 / many:.3f} min,K{n % 2},{1500 - n // 4} psi" for n in range(many)]
    return ("time,cylinder,gauge\n" + "\n".join(rows) + "\n").encode()


def _with(text: str, **files: bytes) -> Callable[[], Files]:
    return lambda: {TRIP: text.encode(), **{name.replace("_", "."): data for name, data in files.items()}}


def _form(name: str, file: str) -> Callable[[], Files]:
    return lambda: {TRIP: trip().encode(), file: hostile_forms.SAMPLES[name]()}


_COMPARE = ("compare", TRIP, "log.csv")
_FROM = ("plan", TRIP, "--from", "log.csv", "--output", "out")
_PDF = ("plan", TRIP, "--output", "out")
_HISTORY = ("review", "history.jsonl")

_STORE = "cylinders:\n" + "".join(f"- {{label: K{n}, size: US-E, gauge: 2000 psi}}\n" for n in range(2200))

COMMANDS: Final[dict[str, tuple[Callable[[], Files], Sequence[str]]]] = {
    "2,000 readings": (_with(cylinders(3), log_csv=readings(1999)), _COMPARE),
    "2,000 readings in turn": (_with(cylinders(3), log_csv=taken_in_turn(1999)), _COMPARE),
    "2,000 readings of 60 cylinders": (_with(cylinders(60), log_csv=readings(1999)), _COMPARE),
    "too many readings": (_with(cylinders(3), log_csv=readings(9999)), _COMPARE),
    "2,000 readings on the way": (_with(cylinders(3), log_csv=readings(1999)), _FROM),
    "2,000 readings in turn on the way": (_with(cylinders(3), log_csv=taken_in_turn(1999)), _FROM),
    "pages for 60 cylinders": (_with(cylinders(60)), _PDF),
    "pages for 2,000 cylinders": (_with(cylinders(2000)), _PDF),
    "a manifold of 2,000": (_with(cylinders(2000, "manifold: true, ")), _PDF),
    "a store of 2,200": (lambda: store_beside(_STORE), _PDF),
    "a shift of 2,000 cylinders": (_with(cylinders(2000)), ("shift", TRIP)),
    "a shift of forms": (_form("object streams", "form.pdf"), ("shift", TRIP, "form.pdf")),
    "a history of one line": (lambda: {"history.jsonl": b"[" * 30_000_000}, _HISTORY),
    "a history of lines of nothing": (lambda: {"history.jsonl": b"{}\n" * 300_000}, _HISTORY),
    "a history with words for a terminal": (lambda: {"history.jsonl": b"\x1b[2J{\x00\n" * 1000}, _HISTORY),
    "a request of object streams": (_form("object streams", "request.pdf"), ("plan", "request.pdf", "--output", "out")),
    "a request of boxes": (_form("7.5 MB of boxes", "request.pdf"), ("new", "--from", "request.pdf")),
    "a request of packed zeros": (_form("nested filters", "request.pdf"), ("check", "request.pdf")),
    "readings of a form for the way": (_form("object streams", "form.pdf"), ("plan", TRIP, "--from", "form.pdf")),
}  # fmt: skip
