"""Random histories whose truth is known: every figure of the document of `review` against a plain recomputation.

The generator keeps what each trip was in the end; files are then written as services write them: closed again, undone,
copied, over several files, with keys that nobody knows and broken lines between. The figures are worked out again
from the truth alone, by definition: ranks by exact fractions, bounds by bisection of exact sums, p-values by counting.
"""

from __future__ import annotations

import json
from collections import defaultdict
from fractions import Fraction
from functools import cache
from math import comb, inf, isinf
from random import Random
from statistics import median
from typing import Any, NamedTuple

import pytest

from planner.afterwards.review.history import read
from planner.afterwards.review.review import review
from planner.report.review.json import review_result

Row = dict[str, Any]


class Service(NamedTuple):
    """How a service is: how often it closes a trip again, whether in order, and whether all its devices have a name."""

    again: float
    in_order: bool
    named: bool
    grows_at: int


def trip_rows(rng: Random, number: int, service: Service) -> list[Row]:
    """The lines of one closing, without its ID: a trip, its stretches, legs and waits."""
    grown = 1.8 if number > service.grows_at else 1.0
    rate = 0.01
    day = number if service.in_order else rng.randrange(500)
    supplies = {}
    for name in rng.choice((("cart",), ("cart", "main"), ("cart",), ())):
        planned = rng.choice((0.0, 200.0, 300.0, 300.0))
        used = planned * rng.lognormvariate(0.0, 0.3) if planned or rng.random() < 0.9 else 40.0
        supplies[name] = {"planned_l": planned, "required_l": 1.5 * planned, "used_l": used, "doubt_l": 0.05 * planned}
    rows: list[Row] = [
        {
            "kind": "trip",
            "closed": f"{2020 + day // 240}-{1 + day // 20 % 12:02d}-{1 + day % 20:02d}",
            "setting": rng.choice(("road", "road", "road", "air")),
            "ran_out": rng.random() < rate,
            "supplies": supplies,
        }
    ]
    for _ in range(rng.randrange(1, 5)):
        kind: Row = rng.choice(
            (
                {"type": "ventilator", "drive": "electric", "rule": None},
                {"type": "ventilator", "drive": "electric", "rule": None},
                {"type": "simple_mask"},
                {"type": "mixed"},
            )
        )
        vent = kind["type"] == "ventilator"
        own = "vent 2" if vent else "other"
        planned = rng.choice((60.0, 100.0, 100.0, 100.0, 0.0))
        rows.append(
            {
                "kind": "flow",
                **kind,
                "settings": rng.choice(("other", "minute volume 7 L/min")) if vent and not service.named else "other",
                "device": rng.choice(("other", "vent 2", "vent 2")) if vent and not service.named else own,
                "label": "A",
                "planned_l": planned,
                "used_l": planned * rng.choice((0.9, 1.0, rng.lognormvariate(0.0, 0.2))) * (grown if vent else 1.0),
                "doubt_l": rng.choice((1.0, 2.0, 5.0, 9.0, 12.0, 40.0)),
                "min": rng.choice((10.0, 20.0)),
            }
        )
    for _ in range(rng.randrange(4)):
        where: Row = rng.choice(
            ({"leg": "to the bay", "by": "foot"}, {"leg": "other", "by": None}, {"wait": "lift"}, {"wait": "lift"})
        )
        planned = rng.choice((10.0, 10.0, 10.0, 0.0))
        rows.append({"kind": "time", **where, "planned_min": planned, "min": 10.0 * rng.choice((0.5, 1.0, 1.3, 2.0))})
    return rows


def written(rng: Random, trips: int, service: Service) -> tuple[list[list[str]], list[list[Row]], int, int]:
    """Lines of some files; the truth: rows of each trip that counts, in the order first seen; unclosed, and broken."""
    truth: dict[str, list[Row] | None] = {}
    blocks: list[list[str]] = []
    broken = unclosed = 0

    def lines(id_: str, rows: list[Row]) -> list[str]:
        return [json.dumps({"history": 1, "trip": id_, **row, "unknown": [1, {}]}) + "\n" for row in rows]

    for number in range(trips):
        id_ = f"t{number}"
        truth[id_] = trip_rows(rng, number, service)
        blocks.append(lines(id_, truth[id_] or []))
        if rng.random() < service.again:
            again = f"t{rng.randrange(number + 1)}"
            truth[again] = trip_rows(rng, int(again[1:]), service)
            blocks.append(lines(again, truth[again] or []))
        if rng.random() < service.again / 2.0:
            gone = f"t{rng.randrange(number + 1)}"
            truth[gone] = None
            blocks.append(lines(gone, [{"kind": "void"}]))
        if rng.random() < 0.05:
            broken += 1
            blocks.append([rng.choice(('{"history": 1, "tr\n', "x\n", '{"history": 2, "trip": "t0"}\n', "[]\n"))])
        if rng.random() < 0.05:
            blocks.append(["\n", "  \n"])
    for number in range(3 if service.again else 0):  # the line of a closing is broken, first one and one that replaces
        unclosed += 1
        broken += 1
        id_ = f"broken{number}"
        head, *rest = lines(
            id_, [*trip_rows(rng, 5, service), {"kind": "time", "wait": "lift", "planned_min": 1.0, "min": 9.0}]
        )
        blocks += [[head, *rest, head[:-9] + "\n", *rest]] if number else [[head[:-9] + "\n", *rest]]
    cut = sorted(rng.randrange(len(blocks)) for _ in range(2))
    files = [blocks[: cut[0]], blocks[cut[0] : cut[1]], blocks[cut[1] :]]
    texts = [[line for block in file for line in block] for file in files]
    texts[-1].append('{"history": 1, "trip": "t1", "kind": "tr')  # what a power cut leaves is no lost data
    return texts, [rows for rows in truth.values() if rows is not None], unclosed, broken


ONE_IN_20 = Fraction(1, 20)


@cache
def rank(trips: int, outside: Fraction) -> int:
    """The largest k with P(Bin(trips, outside) <= k - 1) <= 1 / 20, summed in fractions."""
    found, total = 0, Fraction(0)
    for k in range(trips + 1):
        total += comb(trips, k) * outside**k * (1 - outside) ** (trips - k)
        if total > Fraction(1, 20):
            break
        found = k + 1
    return found


def limit(ratios: list[float], most: list[float], name: str = "upper_95_95", outside: Fraction = ONE_IN_20) -> Row:
    place = rank(len(most), outside)
    upper = sorted(most, reverse=True)[place - 1] if place else None
    reason = "not_enough" if upper is None else "ran_out" if isinf(upper) else None
    middle = median(ratios) if ratios else None
    return {
        "trips": len(ratios),
        "median": None if middle is None or isinf(middle) else middle,
        name: None if reason else upper,
        "reason": reason,
        "needed": 59 if outside == ONE_IN_20 else 299,
    }


def lower_95(inside: int, trips: int) -> float | None:
    """Clopper and Pearson by their definition."""
    if not trips:
        return None
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = (low + high) / 2
        tail = sum(comb(trips, k) * middle**k * (1 - middle) ** (trips - k) for k in range(inside, trips + 1))
        low, high = (middle, high) if tail <= 0.05 else (low, middle)
    return low if inside else 0.0


def alarm(ratios: list[float], threshold: float) -> tuple[int, int] | None:
    """Shiryaev and Roberts by their formula, with p-values by counting; and the start of the best run of bets."""
    stakes = dict.fromkeys((0.1, 0.2, 0.3, 0.5, 0.7), 0.0)
    gains: list[float] = []
    for index, ratio in enumerate(ratios):
        p = sum(other >= ratio for other in ratios[: index + 1]) / (index + 1)
        stakes = {e: (1.0 + r) * e * p ** (e - 1.0) for e, r in stakes.items()}
        if sum(stakes.values()) / 5.0 >= threshold:
            products = [1.0]
            for gain in gains:
                products.append(products[-1] * gain)
            begins = max(i for i, value in enumerate(products) if value <= min(products[: i + 1]) * (1 + 1e-12))
            return index, begins
        gains.append(0.5 * p**-0.5)
    return None


def summed(groups: dict[Any, dict[int, list[float]]], key: Any, trip: int, values: tuple[float, ...]) -> None:
    sums = groups[key].setdefault(trip, [0.0] * len(values))
    for at, value in enumerate(values):
        sums[at] += value


def expected(truth: list[list[Row]], unclosed: int, broken: int, made: int) -> Row:  # noqa: C901 - the whole of it
    heads = [rows[0] for rows in truth]
    flows: dict[Any, dict[int, list[float]]] = defaultdict(dict)
    devices: dict[Any, dict[int, list[float]]] = defaultdict(dict)
    times: dict[Any, dict[int, list[float]]] = defaultdict(dict)
    for trip, rows in enumerate(truth):
        for row in rows[1:]:
            if row["kind"] == "time":
                key = (row.get("leg"), row.get("wait"), row.get("by"))
                summed(times, key, trip, (row["planned_min"], row["min"]))
            elif row["type"] != "mixed":
                kind = ", ".join(filter(None, (row["type"], row.get("drive"), row.get("rule"))))
                values = (row["planned_l"], row["used_l"], row["doubt_l"], row["min"])
                setting, settings, device = heads[trip]["setting"], row["settings"], row["device"]
                summed(flows, (kind, setting, None, None), trip, values)
                if not settings == device == "other":
                    summed(flows, (kind, setting, settings, device), trip, values)
                if device != "other":
                    summed(devices, (device, setting, settings, kind), trip, values)
    blurred: set[int] = set()
    unplanned: set[int] = set()
    told_flows, told_times, series = [], [], []
    pooled = 0
    by_names = lambda key: [(word is not None, word or "") for word in key]  # noqa: E731
    order = sorted(range(len(truth)), key=lambda trip: heads[trip]["closed"])
    for key in sorted(flows, key=by_names):
        ratios: dict[int, tuple[float, float]] = {}
        counts = [0, 0]
        for trip, (planned, used, doubt, _) in flows[key].items():
            if planned == 0.0:
                counts[0] += 1
                unplanned |= {trip} if key[2] is None else set()
            elif heads[trip]["ran_out"]:
                ratios[trip] = (inf, inf)
            elif doubt > 0.2 * planned:
                counts[1] += 1
                blurred |= {trip} if key[2] is None else set()
            else:
                ratios[trip] = (used / planned, (used + doubt) / planned)
        if key[2] is not None and len(ratios) < 59:
            continue
        what = dict(zip(("type", "setting", "settings", "device"), key, strict=True))
        found = limit([one for one, _ in ratios.values()], [most for _, most in ratios.values()])
        told_flows.append(what | found | {"unplanned": counts[0], "blurred": counts[1]})
        pooled = len(ratios) if key[2] is None else pooled
        if key[2] is None or len(ratios) < pooled:
            series.append((what, [(trip, ratios[trip][0]) for trip in order if trip in ratios]))
    for key in sorted(times, key=by_names):
        leg, wait, by = key
        of_time = {
            trip: inf if heads[trip]["ran_out"] else real / planned
            for trip, (planned, real) in times[key].items()
            if planned
        }
        what = {"leg": leg, "by": by} if wait is None else {"wait": wait}
        ratios_of = list(of_time.values())
        told_times.append(what | limit(ratios_of, ratios_of) | {"unplanned": len(times[key]) - len(ratios_of)})
        series.append((what, [(trip, of_time[trip]) for trip in order if trip in of_time]))
    changed = []
    for what, values_of in series:
        found_at = alarm([ratio for _, ratio in values_of], 1000 * len(series))
        if found_at is not None:
            told, since = (heads[values_of[at][0]]["closed"] for at in found_at)
            changed.append({"what": what, "since": since, "told": told, "trips": len(values_of)})
    excess = {}
    for trip, head in enumerate(heads):
        most = [
            inf if not s["planned_l"] else (s["used_l"] + s["doubt_l"]) / s["planned_l"]
            for s in head["supplies"].values()
            if s["planned_l"] or s["used_l"] + s["doubt_l"] > s["required_l"]
        ]
        if most or head["ran_out"]:
            excess[trip] = inf if head["ran_out"] else max(most)
    covered = sum(
        not heads[trip]["ran_out"]
        and all(s["used_l"] + s["doubt_l"] <= s["required_l"] for s in heads[trip]["supplies"].values())
        for trip in excess
    )
    by_setting: dict[str, list[float]] = defaultdict(list)
    for trip, ratio in excess.items():
        by_setting[heads[trip]["setting"]].append(ratio)
    return {
        "format": 1,
        "trips": len(truth),
        "covered": {"share": covered / len(excess), "lower_95": lower_95(covered, len(excess)), "trips": len(excess)},
        "flows": told_flows,
        "times": told_times,
        "implied": implied(devices, heads),
        "changed": changed,
        "alarm_trips": 1000 * len(series),
        "series": len(series),
        "reserves": [
            {"setting": setting, **limit(ratios_, ratios_, "upper_99_95", Fraction(1, 100))}
            for setting, ratios_ in sorted(by_setting.items())
        ],
        "blurred": len(blurred),
        "unplanned": len(unplanned),
        "ran_out": sum(head["ran_out"] for head in heads),
        "unclosed": unclosed,
        "missing": made - len(truth),
        "skipped": broken,
    }


def implied(devices: dict[Any, dict[int, list[float]]], heads: list[Row]) -> list[Row]:
    """One device here, over all its settings: a value a trip."""
    whole: dict[int, list[float]] = {}
    for by_trip in devices.values():
        for trip, sums in by_trip.items():
            mine = whole.setdefault(trip, [0.0] * 4)
            whole[trip] = [a + b for a, b in zip(mine, sums, strict=True)]
    extra = [
        (used - planned) / minutes
        for trip, (planned, used, doubt, minutes) in whole.items()
        if planned and not heads[trip]["ran_out"] and doubt <= 0.2 * planned
    ]
    return [{"device": "vent 2", "trips": len(extra), "extra_l_per_min": median(extra)}] if len(extra) >= 59 else []


def near(value: Any) -> Any:
    """The same document, its floats to be met but for noise."""
    if isinstance(value, dict):
        return {key: near(one) for key, one in value.items()}
    if isinstance(value, list):
        return [near(one) for one in value]
    return pytest.approx(value, rel=1e-9) if isinstance(value, float) else value


def test_every_figure_of_random_histories_against_their_truth(request: pytest.FixtureRequest) -> None:
    seen: dict[str, int] = defaultdict(int)
    searched = 200 if request.config.getoption("--long") else 16
    for seed in range(searched):
        rng = Random(seed)  # noqa: S311 - repeatable, not secret
        service = Service(0.1 * bool(seed % 3), bool(seed % 4 < 2), bool(seed % 2), rng.randrange(100, 250))
        files, truth, unclosed, broken = written(rng, rng.choice((80, 300, 500)), service)
        made = len(truth) + rng.randrange(9)
        found = review_result(review(read([(str(at), lines) for at, lines in enumerate(files)]), made))
        assert found == near(expected(truth, unclosed, broken, made)), seed
        for row in (*found["flows"], *found["times"]):
            seen[row["reason"] or "limit"] += 1
            seen["finer"] += row.get("settings") is not None
        for key in ("changed", "implied", "blurred", "unplanned", "ran_out"):
            seen[key] += bool(found[key])
    # The search is no search where what it compares never comes up.
    wanted = ("limit", "not_enough", "ran_out", "finer", "changed", "implied", "blurred", "unplanned")
    assert all(seen[what] for what in wanted), seen
