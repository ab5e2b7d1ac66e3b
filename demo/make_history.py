"""Write the history of an invented service, always the same: `python demo/make_history.py > demo/history.jsonl`.

140 closed trips of a made-up ground crew: masks that use a little less than planned, a pneumatic ventilator that uses
more than its manual says, a lift that takes longer, and a scanner whose wait grew in autumn. Nothing in it is real.
"""

from __future__ import annotations

import json
from datetime import date, timedelta
from random import Random

SEED = 2026
TRIPS = 140


def lines() -> list[str]:
    """Every line, without its end."""
    rng = Random(SEED)  # noqa: S311 - no secret: the same numbers each time are wanted
    found = []
    for number in range(TRIPS):
        found += [json.dumps(row) for row in _trip(rng, number)]
    return found


def _trip(rng: Random, number: int) -> list[dict[str, object]]:
    id_ = f"demo{number:04d}"
    closed = (date(2026, 3, 2) + timedelta(days=2 * number)).isoformat()
    ventilated = rng.random() < 0.55
    minutes = rng.uniform(35.0, 80.0)
    flow = 5.9 if ventilated else 6.0
    ratio = rng.lognormvariate(0.12 if ventilated else -0.04, 0.13)
    planned, used = flow * minutes, flow * minutes * ratio
    doubt = rng.uniform(6.0, 18.0)
    supply = {"planned_l": planned, "required_l": planned + max(planned / 2.0, 30.0 * flow)}
    supply |= {"used_l": used, "doubt_l": doubt}
    head = {"history": 1, "trip": id_}
    device = {"type": "ventilator", "drive": "pneumatic"} if ventilated else {"type": "simple_mask"}
    lift, leg = rng.lognormvariate(0.35, 0.25), rng.lognormvariate(0.05, 0.15)
    scan = rng.lognormvariate(0.45 if number > 95 else 0.0, 0.2)
    return [
        {
            **head,
            "kind": "trip",
            "closed": closed,
            "setting": "in_house",
            "ran_out": False,
            "supplies": {"cart": supply},
        },
        {
            **head,
            "kind": "flow",
            **device,
            "settings": "other",
            "device": "transport ventilator" if ventilated else "other",
            "label": "E-01",
            "planned_l": planned,
            "used_l": used,
            "doubt_l": doubt,
            "min": minutes,
        },
        {**head, "kind": "time", "leg": "ward to scanner", "by": "foot", "planned_min": 12.0, "min": 12.0 * leg},
        {**head, "kind": "time", "wait": "lift", "planned_min": 5.0, "min": 5.0 * lift},
        {**head, "kind": "time", "wait": "scanner", "planned_min": 20.0, "min": 20.0 * scan},
    ]


if __name__ == "__main__":
    print("\n".join(lines()))
