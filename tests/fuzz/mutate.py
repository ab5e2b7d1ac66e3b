"""Changes of files that a person could have written into files that nobody should have: one change at a time.

A case is the files of one folder and the changes of a command line. Half the changes are made in the tree of a YAML
file, so that what comes out is still YAML and reaches the depths of the reader; the others are made in its bytes.
Every choice is made by the `random.Random` handed in, so that a run can be repeated.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from random import Random
from typing import Any, Final, NamedTuple

import yaml

ROOT: Final = Path(__file__).resolve().parent.parent.parent
LARGEST: Final = 60_000
"""Bytes of a file that is changed further; the full sizes are those of `hostile.py`."""

MOST_NODES: Final = 5000
"""So many nodes of a tree are changed or handed on, for aliases of aliases make more of them than there is room for."""

TRIP, POLICY, OWN, STORE = "trip.yaml", "policy.yaml", "own.yaml", "store.yaml"
READINGS, TABLE = "readings.yaml", "readings.csv"
_SEEDS: Final[dict[str, tuple[str, ...]]] = {
    TRIP: ("tests/profiles/good/*.yaml", "profiles/*.yaml", "demo/*.yaml", "tests/profiles/bad/*.yaml"),
    POLICY: ("profiles/policies/*.yaml", "tests/profiles/good/policies/*.yaml"),
    OWN: ("profiles/own-lines/*.yaml",),
    STORE: ("profiles/stores/*.yaml",),
    READINGS: ("profiles/readings/*.yaml",),
    TABLE: ("profiles/readings/*.csv",),
}

SCALARS: Final = (
    *("", "0", "-1", "1", "2", "9" * 400, "1e99", "1e-9", "0x1F", "010", "1_000", "1:30", ".nan", ".inf", "-0.0", "½"),
    *("true", "false", "yes", "no", "~", "null", "=", "<<", "2026-12-03", "2026-02-30 25:61", "2026-03-29 02:30"),
    *("60", "60 %", "0.6 %", "101 %", "21 %", "2,5 L/min", "2 L/Min", "15 L/min", "400 L/min", "0 L/min", "nan L"),
    *("2000 psi", "2000 PSI", "137 bar", "1e3 kPa", "999999999999 psi", "5 mmHg", "1 h 20 min", "80 min 1 h", "14 d"),
    *("8000 ft", "-5 degC", "999 degF", "6.8 kg", "16/min", "450 mL", "680 L at 2015 psi", "1 L at 400 bar at 99 degC"),
    *("E", "US-E", "UK-CD", "ISO-10", "US-", "Europe/Oslo", "../x", "Europe", "a.b", "a:b", "[1]", " x ", "x" * 61),
    *("x" * 201, "x" * 10_001, "n" * 60, "policy.yaml", "store.yaml", "own.yaml", "trip.yaml", ".", "/", "/dev/null"),
    *("\x00", "\x07", "\u202e", "\ufeff", "\u2028", "\u200b", "\u00a0", "\u0130", "ǅ", "😀", "é", "e\u0301", "\ud800"),
    *(
        "a\nb",
        "a\tb",
        "a\r\nb",
        "'",
        '"',
        "\\",
        "#",
        " #3",
        "&a",
        "*a",
        "!t",
        "%",
        "@",
        "`",
        "|",
        ">",
        "- ",
        "? ",
        ": ",
    ),
    *("patient", "cylinder_lost", "high_pressure", "flowmeter", "part_used", "pneumatic", "ventilator", "concentrator"),
)
"""Values, each of which is right, wrong or absurd in some place."""

PIECES: Final = (
    *(
        b"\x00",
        b"\xff",
        b"\xfe\xff",
        b"\xff\xfe",
        b"\xef\xbb\xbf",
        b"\xc3",
        b"\xed\xa0\x80",
        b"\xe2\x80\xae",
        b"\x1b[2J",
    ),
    *(b"\t", b"\r", b"\r\n", b"\n", b"\n\n", b" ", b"  ", b"    ", b"\xe2\x80\xa8", b"\xc2\x85", b"\xc2\xa0"),
    *(b"[", b"]", b"{", b"}", b",", b":", b": ", b"- ", b"? ", b"'", b'"', b"|\n", b">-\n", b"|2", b"#", b" #3", b"\\"),
    *(b"&a ", b"*a", b"<<: *a\n", b"!!str ", b"!t ", b"---\n", b"\n---\n", b"...\n", b"%YAML 1.1\n", b"@", b"`", b"%"),
    *(b"\\u202e", b"\\U00110000", b"\\x00", b"\\ud800", b"[" * 30, b"{a: " * 30, b"- " * 30, b"x" * 300, b"0" * 40),
)
"""Bytes to put between others."""


class Case(NamedTuple):
    """The files of one folder, of which `trip.yaml` is read, and changes of its values."""

    files: dict[str, bytes]
    changes: tuple[str, ...] = ()


def seeds() -> list[Case]:
    """Cases to begin with: each trip of the project, with one of each other kind of file beside it."""
    kinds = {name: [path for pattern in patterns for path in _found(pattern)] for name, patterns in _SEEDS.items()}
    cases = []
    for place, path in enumerate(kinds[TRIP]):
        same = {name: [one for one in of if one.stem == path.stem] or of for name, of in kinds.items()}
        files = {name: of[place % len(of)].read_bytes() for name, of in same.items()}
        files[POLICY] = files[POLICY].replace(b"../own-lines/hospital.yaml", OWN.encode())
        linked = _all_linked(files[TRIP])
        cases += [Case(files), Case({**files, TRIP: linked[place % len(linked)]})]
    return cases


def mutated(case: Case, random: Random, others: list[Case]) -> Case:
    """A case with one to four changes more; pieces may come from others."""
    for _ in range(random.choice((1, 1, 2, 2, 3, 4))):
        name = random.choices((TRIP, POLICY, OWN, STORE, READINGS, TABLE), (12, 2, 1, 2, 5, 2))[0]
        data = case.files[name]
        other = random.choice(others).files[name]
        kind = random.random()
        if kind < 0.08:
            case = case._replace(changes=(*case.changes[-3:], _change(data, random)))
            continue
        if kind < 0.13:
            data = random.choice(_all_linked(data))
        new = _tree_mutated(data, random, other) if kind < 0.65 else _bytes_mutated(data, random, other)
        if new is not None and len(new) <= LARGEST:
            case = case._replace(files={**case.files, name: new})
    return case


def _found(pattern: str) -> Iterator[Path]:
    return (path for path in sorted(ROOT.glob(pattern)) if not path.name.endswith(".figures.yaml"))


def _all_linked(data: bytes) -> tuple[bytes, ...]:
    """A profile that names the files beside it, in three ways."""
    supply = b"supplies:\n  stock: {store: store.yaml, weight_limit: 20 kg}\n"
    return (
        b"policy: policy.yaml\n" + data,
        b"policy: {file: policy.yaml, own_lines: own.yaml}\n" + data,
        data.replace(b"supplies:\n", supply),
    )


# Changes of a tree


def _tree_mutated(data: bytes, random: Random, other: bytes) -> bytes | None:
    tree, foreign = _tree(data), _tree(other)
    if tree is None:
        return None
    if random.random() < 0.5 and foreign is not None:
        donors = list(islice(_nodes(foreign), MOST_NODES))
    else:
        donors = list(islice(_nodes(tree), MOST_NODES))
    holders = [node for node in islice(_nodes(tree), MOST_NODES) if _is_holder(node)]
    if not holders:
        return None
    holder = random.choice(holders)
    random.choice(_TREE_CHANGES)(holder, random, donors)
    try:
        text = yaml.serialize(tree, allow_unicode=True, width=random.choice((20, 100, 10_000)))
        return str(text).encode("utf-8", "surrogatepass")
    except (yaml.YAMLError, RecursionError, AttributeError, UnicodeError):
        return None  # the writer of YAML has limits too


def _tree(data: bytes) -> Any:
    try:
        return yaml.compose(data.decode("utf-8"), Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    except (yaml.YAMLError, ValueError, RecursionError, OverflowError):
        return None


def _is_holder(node: Any) -> bool:
    return not isinstance(node, yaml.ScalarNode) and bool(node.value)


def _nodes(node: Any, depth: int = 0) -> Iterator[Any]:
    if depth > 25:
        return
    yield node
    for part in node.value if not isinstance(node, yaml.ScalarNode) else ():
        for each in part if isinstance(part, tuple) else (part,):
            yield from _nodes(each, depth + 1)


def _copy(part: Any) -> Any:
    """A copy of a node or a pair, if it is not too large; else the same."""
    nodes = part if isinstance(part, tuple) else (part,)
    small = all(sum(1 for _ in islice(_nodes(node), MOST_NODES)) < MOST_NODES for node in nodes)
    return copy.deepcopy(part) if small else part


def _put(holder: Any, place: int, node: Any) -> None:
    """Put a node in as the value at a place of a mapping or a list."""
    old = holder.value[place]
    holder.value[place] = (old[0], node) if isinstance(old, tuple) else node


def _scalar(random: Random) -> Any:
    return yaml.ScalarNode("tag:yaml.org,2002:str", random.choice(SCALARS), style=random.choice((None, None, "'", '"')))


def _replace_by_scalar(holder: Any, random: Random, donors: list[Any]) -> None:  # noqa: ARG001
    _put(holder, random.randrange(len(holder.value)), _scalar(random))


def _replace_by_node(holder: Any, random: Random, donors: list[Any]) -> None:
    """By a copy, or by the same node, which is then written as an alias."""
    node = random.choice(donors)
    _put(holder, random.randrange(len(holder.value)), node if random.random() < 0.3 else _copy(node))


def _drop(holder: Any, random: Random, donors: list[Any]) -> None:  # noqa: ARG001
    del holder.value[random.randrange(len(holder.value))]


def _double(holder: Any, random: Random, donors: list[Any]) -> None:  # noqa: ARG001
    part = random.choice(holder.value)
    many = random.choice((1, 1, 2, 20))
    holder.value.extend(_copy(part) for _ in range(many))


def _swap(holder: Any, random: Random, donors: list[Any]) -> None:  # noqa: ARG001
    one, two = random.randrange(len(holder.value)), random.randrange(len(holder.value))
    holder.value[one], holder.value[two] = holder.value[two], holder.value[one]


def _rename(holder: Any, random: Random, donors: list[Any]) -> None:
    """A key misspelt, in capitals, or that of another mapping."""
    place = random.randrange(len(holder.value))
    part = holder.value[place]
    if not isinstance(part, tuple) or not isinstance(part[0], yaml.ScalarNode):
        return
    key = str(part[0].value)
    at = random.randrange(len(key) + 1)
    words = [str(node.value) for node in donors if isinstance(node, yaml.ScalarNode)] or [key]
    new = random.choice((key[:at] + key[at + 1 :], key[:at] + "x" + key[at:], key.upper(), random.choice(words)))
    holder.value[place] = (yaml.ScalarNode("tag:yaml.org,2002:str", new), part[1])


def _add(holder: Any, random: Random, donors: list[Any]) -> None:
    node = _copy(random.choice(donors)) if random.random() < 0.5 else _scalar(random)
    if isinstance(holder, yaml.MappingNode):
        words = [str(each.value) for each in donors if isinstance(each, yaml.ScalarNode)] or ["x"]
        holder.value.append((yaml.ScalarNode("tag:yaml.org,2002:str", random.choice(words)), node))
    else:
        holder.value.append(node)


def _wrap(holder: Any, random: Random, donors: list[Any]) -> None:  # noqa: ARG001
    """A value in a list, or in many."""
    place = random.randrange(len(holder.value))
    part = holder.value[place]
    node = part[1] if isinstance(part, tuple) else part
    for _ in range(random.choice((1, 1, 1, 25))):
        node = yaml.SequenceNode("tag:yaml.org,2002:seq", [node], flow_style=True)
    _put(holder, place, node)


_TREE_CHANGES: Final[tuple[Callable[[Any, Random, list[Any]], None], ...]] = (
    *(_replace_by_scalar, _replace_by_scalar, _replace_by_scalar, _replace_by_node, _replace_by_node),
    *(_drop, _double, _swap, _rename, _rename, _add, _add, _wrap),
)


# Changes of bytes


def _bytes_mutated(data: bytes, random: Random, other: bytes) -> bytes:
    start = random.randrange(len(data) + 1)
    end = min(len(data), start + random.choice((0, 1, 1, 4, 40, 400)))
    kind = random.randrange(10)
    if kind < 5:
        return data[:start] + random.choice(PIECES) * random.choice((1, 1, 1, 3, 200)) + data[end:]
    if kind < 7:
        at = random.randrange(len(other) + 1)
        return data[:start] + other[at : at + random.choice((4, 40, 400))] + data[end:]
    if kind == 7:
        lines = data.splitlines(keepends=True) or [b""]
        lines.insert(random.randrange(len(lines) + 1), random.choice(lines) * random.choice((1, 2, 30)))
        return b"".join(lines)
    if kind == 8:
        return data.replace(b"\n", random.choice((b"\r\n", b"\r", b"\n\n", b"\n ")))
    text = data.decode("utf-8", "replace")
    return random.choice((data[:start], text.encode("utf-16"), b"\xef\xbb\xbf" + data, data.replace(b" ", b"\t", 3)))


def _change(data: bytes, random: Random) -> str:
    """A change of the command line: most often of a value that is there."""
    tree = _tree(data)
    steps: list[str] = []
    node = tree
    while node is not None and not isinstance(node, yaml.ScalarNode) and node.value and random.random() < 0.9:
        place = random.randrange(len(node.value))
        part = node.value[place]
        if isinstance(part, tuple):
            steps.append(f".{part[0].value if isinstance(part[0], yaml.ScalarNode) else 'x'}")
            node = part[1]
        else:
            steps.append(f"[{place + random.choice((0, 1, 1, 1))}]")
            node = part
    if random.random() < 0.2:
        steps.append(random.choice((".policy", ".x", "[0]", "[99999]", ".", ".gauge", "[1].use", ".reserve_time")))
    value = random.choice(SCALARS) if random.random() < 0.8 else random.choice(("[1, 2]", "{a: b}", "'x", "[[[", "{x}"))
    return f"{''.join(steps).removeprefix('.')}={value}"
