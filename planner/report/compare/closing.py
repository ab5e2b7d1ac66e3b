"""What the end of a trip has, and what it lacks to be closed."""

from __future__ import annotations

from planner.afterwards.compare import Comparison
from planner.naming import labelled
from planner.report.screen import wrap


def closing_lines(found: Comparison) -> list[str]:
    """That every cylinder is shut and bled, or which is not; nothing for a trip on its way."""
    if found.log.closing is None:
        return []
    if not found.missing:
        used = [
            f"{supply} {labelled(label, found.plan.trip.supplies[supply].gas)}"
            for supply, labels in found.used.items()
            for label in labels
        ]
        return wrap(f"Every cylinder used has its last gauge, and is shut and bled: {', '.join(used) or 'none'}.")
    lines = wrap("NOT CLOSED. A cylinder that is left open is empty next time, and a fire hazard.")
    return [*lines, *(line for text in missing_texts(found) for line in wrap(text, "  - "))]


def missing_texts(found: Comparison) -> list[str]:
    """What is lacking to close the trip, a phrase for each cylinder: `cart B without its last gauge`."""
    texts = []
    for each in found.missing:
        lacking = ["its last gauge"] if each.gauge else []
        lacking += ["the word that it was shut and bled"] if each.shut_and_bled else []
        label = labelled(each.cylinder, found.plan.trip.supplies[each.supply].gas)
        texts.append(f"{each.supply} {label} without {' and '.join(lacking)}")
    return texts
