"""What a licensed clinician accepts for a trip: each with the supply and the limit that its kind asks for."""

from __future__ import annotations

from typing import Final

from planner.model import Accepted
from planner.profile.faults import position
from planner.profile.fields import Fields
from planner.profile.supplies import Names, known, names_under
from planner.text.text_file import show

_LIMITS: Final = {
    "at_most": ("the most litres of the reserve that may be missing", "at_most: 30 L"),
    "not_before": ("the time after departure before which oxygen must not run out", "not_before: 62 min"),
    "supply": ("the supply that it is accepted for", "supply: cart"),
}
"""What each key is, and how it is written."""


def read_accepted(root: Fields) -> tuple[Accepted, ...]:
    """Every acceptance of a profile, in order; none twice for one supply."""
    names = names_under(root, "supplies")
    found: list[Accepted] = []
    for node in root.items("accepted"):
        one = _read(Fields(root.faults, node, "accepted"), names)
        if one.what and (one.what, one.supply) in [(other.what, other.supply) for other in found]:
            again = f"{show(one.what)} accepted twice{f' for {show(one.supply)}' if one.supply else ''}"
            root.faults.add(node, "named_twice", again, "each once for a supply", "take one out")
        found.append(one)
    return tuple(found)


def _read(fields: Fields, names: Names) -> Accepted:
    what = fields.text("what") or ""
    if what:
        fields.title = f"accepted {show(what)}"
        _ask(fields, _wanted(what))
    return Accepted(
        what=what,
        by=fields.text("by") or "",
        why=fields.text("why") or "",
        supply=known(fields, "supply", names),
        at_most_l=fields.quantity("at_most"),
        not_before_min=fields.quantity("not_before"),
        where=position(fields.node),
    )


def _wanted(what: str) -> tuple[str, ...]:
    """The keys that an acceptance must have beside what, by and why; it may have no other."""
    of_its_own = {"fio2_above_1": (), "spare": ("supply",), "reserve": ("supply", "at_most")}
    return of_its_own.get(what, ("supply", "not_before"))


def _ask(fields: Fields, wanted: tuple[str, ...]) -> None:
    for key, (means, written) in _LIMITS.items():
        if key in wanted and not fields.given(key):
            fields.missing(key, f"`{key}`, {means}", f"add it, in a form such as `{written}`")
        elif key not in wanted and fields.given(key):
            allowed = " and ".join(f"`{each}`" for each in wanted) or "what, by and why alone"
            fields.add(key, "not_used", f"{fields.title} with `{key}`", allowed, f"take `{key}` out")
