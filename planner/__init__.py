"""Transport oxygen requirement planner: litres, cylinders, change-overs and printable checklists.

What a library user needs, each loaded when it is asked for:

>>> from planner import plan, read_trip
>>> found = plan(read_trip("profiles/ward-to-scan.yaml"))
>>> found.verdict
'go'

`write_pack(found, "pack.pdf", issued=datetime.now())` prints it. What is wrong with a profile is a `ProblemsError`,
with all its problems.
"""

from __future__ import annotations

TYPE_CHECKING = False  # the name is what counts: nothing is loaded before Ctrl-C can be answered
if TYPE_CHECKING:
    from typing import Any

__all__ = ["Plan", "Problem", "ProblemsError", "Trip", "plan", "read_trip", "write_pack"]
__version__ = "0.1.0"

_WHERE = {
    "Plan": "results",
    "Problem": "problems",
    "ProblemsError": "problems",
    "Trip": "model",
    "plan": "planning",
    "read_trip": "profile.read",
    "write_pack": "pages.pack",
}


def __getattr__(name: str) -> Any:
    """What the package gives, from the module that holds it."""
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
