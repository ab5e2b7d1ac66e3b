"""Files made to break a reader, at full size: each is the files of one folder, of which `trip.yaml` is to be read.

They are made when asked for: a few of them are larger than all other files of the project together. Most break one
limit each; the last ones look like a trip, and go to the reader's limits in one of its lists.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from planner.text.text_file import MOST_BYTES
from planner.text.yaml_tree import MOST_NODES

Files = dict[str, bytes]

TRIP: Final = "trip.yaml"
HEAD: Final = "profile: 1\ntrip: Ward to scanner\n"
SUPPLIES: Final = "supplies: {cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}]}}\n"
DEVICES: Final = "devices: {cannula: {type: nasal_cannula, flow: 2 L/min}}\n"
LEG: Final = "{name: Ride, duration: 1 min, supply: cart, devices: [cannula]}"
LEGS: Final = f"legs: [{LEG}]\n"
LONG: Final = "n" * 50
"""Names that a reader accepts and that cost it dear to compare."""


def alone(text: str) -> Files:
    """A folder with nothing but the profile."""
    return {TRIP: text.encode()}


def full(piece: str, head: str = "", tail: str = "", most: int = MOST_BYTES) -> Files:
    """A profile filled with one piece to its largest size."""
    many = (most - len((head + tail).encode())) // len(piece.encode())
    return alone(head + piece * many + tail)


def numbered(piece: str, head: str = "", tail: str = "", values: int = MOST_NODES, most: int = MOST_BYTES) -> Files:
    """A profile filled with a piece in which `#` is a number, up to a count of values or to its largest size.

    A piece counts as many values as it has of `%`, which is taken out.
    """
    each = max(1, piece.count("%"))
    plain = piece.replace("%", "")
    pieces: list[str] = []
    room = most - len((head + tail).encode())
    while (len(pieces) + 1) * each <= values:
        next_piece = plain.replace("#", str(len(pieces)))
        room -= len(next_piece.encode())
        if room < 0:
            break
        pieces.append(next_piece)
    return alone(head + "".join(pieces) + tail)


def trip(supplies: str = SUPPLIES, devices: str = DEVICES, legs: str = LEGS) -> str:
    """A profile with some parts replaced."""
    return HEAD + supplies + devices + legs


def _spread(count: int, piece: str) -> str:
    return "".join(piece.replace("#", str(number)) for number in range(count))


def tower(levels: int, many: int) -> str:
    """Aliases of aliases: the last stands for `many` to the power of `levels`."""
    lines = ["a0: &a0 x"]
    lines += [f"a{level}: &a{level} [{', '.join([f'*a{level - 1}'] * many)}]" for level in range(1, levels + 1)]
    return "\n".join(lines) + "\n"


def many_stores() -> Files:
    """Supplies that all draw from one large store file."""
    store = "cylinders:\n" + _spread(2200, "- {label: '#', size: US-E, gauge: 2000 psi}\n")
    supplies = "supplies:\n" + _spread(1500, "  s#: {store: store.yaml}\n")
    return {TRIP: trip(supplies=supplies).encode(), "store.yaml": store.encode()}


def many_files() -> Files:
    """Supplies that each draw from a large store file of their own."""
    store = "cylinders:\n" + _spread(2200, "- {label: '#', size: US-E, gauge: 2000 psi}\n")
    supplies = "supplies:\n" + _spread(60, "  s#: {store: store#.yaml}\n")
    files = {f"store{number}.yaml": store.encode() for number in range(60)}
    return {TRIP: trip(supplies=supplies).encode(), **files}


def policy_beside(text: str | bytes) -> Files:
    """A sound profile whose policy file holds a text."""
    data = text if isinstance(text, bytes) else text.encode()
    return {TRIP: ("policy: policy.yaml\n" + trip()).encode(), "policy.yaml": data}


def own_lines_beside(text: str | bytes) -> Files:
    """A sound profile whose file of own lines holds a text."""
    data = text if isinstance(text, bytes) else text.encode()
    return {TRIP: ("policy: {own_lines: own.yaml}\n" + trip()).encode(), "own.yaml": data}


def store_beside(text: str | bytes) -> Files:
    """A profile whose store file holds a text."""
    data = text if isinstance(text, bytes) else text.encode()
    return {TRIP: trip(supplies="supplies: {cart: {store: store.yaml}}\n").encode(), "store.yaml": data}


def unknown_devices() -> Files:
    """Every use names a device that is not there, and that looks like all that are."""
    devices = "devices:\n" + _spread(2500, f"  {LONG}#: {{type: nasal_cannula, flow: 2 L/min}}\n")
    uses = ", ".join(f"{LONG}x{number}" for number in range(4000))
    return alone(
        trip(devices=devices, legs=f"legs: [{{name: Ride, duration: 1 min, supply: cart, devices: [{uses}]}}]")
    )


def circle() -> Files:
    """Devices that name each other in one long circle."""
    many = 2400
    devices = "".join(
        f"  {LONG}{number}: {{type: nasal_cannula, flow: 2 L/min, may_rise_to: {LONG}{(number + 1) % many}}}\n"
        for number in range(many)
    )
    return alone(trip(devices="devices:\n" + devices))


def legs_and_devices() -> Files:
    """Half the values are devices, half are legs that use the last of them."""
    devices = "devices:\n" + _spread(1500, "  d#: {type: nasal_cannula, flow: 2 L/min}\n")
    legs = "legs:\n" + _spread(880, "- {name: Leg #, duration: 1 min, supply: cart, devices: [d1499, d1498]}\n")
    return alone(trip(devices=devices, legs=legs))


def misspelt() -> Files:
    """Every key of every level is misspelt, so that each level is found only when the one above is mended."""
    legs = "legz:\n" + _spread(
        1000, "- {nam: Leg #, duraton: 1 min, suply: cart, devicez: [{usse: cannula, fore: 1 min}]}\n"
    )
    return alone(
        trip(legs=legs).replace("supplies", "supplis").replace("devices:", "devicess:").replace("trip", "tripp")
    )


def escapes(code: str) -> Files:
    """A megabyte of escapes in quotes."""
    return full(code, head='trip: "', tail='"\n')


SAMPLES: Final[dict[str, Callable[[], Files]]] = {
    # size
    "10 MB scalar": lambda: {TRIP: b"trip: " + b"x" * 10_000_000},
    "10 MB scalar in quotes": lambda: {TRIP: b'trip: "' + b"x" * 10_000_000 + b'"'},
    "10 MB block": lambda: {TRIP: b"trip: |\n" + b"  xxxxxxxxxxxxxxxxxxxxxxxxx\n" * 357_143},
    "10 MB of lines": lambda: {TRIP: b"a: b\n" * 2_000_000},
    "10 MB of NULs": lambda: {TRIP: b"\0" * 10_000_000},
    "1 MB scalar": lambda: full("x", head="trip: "),
    "1 MB name": lambda: full("x", head=HEAD + DEVICES + LEGS + "supplies: {", tail=": {pipeline: true}}"),
    "1 MB number": lambda: full("9", head=trip().replace("2000 psi", "2000 psi, mass: "), tail=""),
    "1 MB of digits as flow": lambda: full(
        "9", head=HEAD + SUPPLIES + "devices: {a: {type: nasal_cannula, flow: '", tail=" L/min'}}"
    ),
    "1 MB quotes not closed": lambda: full("x y ", head='trip: "'),
    "1 MB of comments": lambda: full("# note\n"),
    "1 MB of spaces": lambda: full(" ", head="trip:"),
    "1 MB of empty lines": lambda: full("\n", head="trip:"),
    "1 MB of escapes": lambda: escapes("\\u0041"),
    "1 MB of hidden escapes": lambda: escapes("\\u202e"),
    "1 MB of escaped halves": lambda: escapes("\\ud800"),
    # characters
    "1 MB of NULs": lambda: full("\0", head="trip: "),
    "1 MB of control characters": lambda: full("\x07\x1b[2J", head="trip: "),
    "control characters at the end": lambda: full("\n", head=trip(), tail="\x07" * 5000),
    "1 MB of bidirectional marks": lambda: full("\u202ea", head="trip: "),
    "1 MB of byte order marks": lambda: full("\ufeff"),
    "1 MB of tabs": lambda: full("\t", head="trip: ", tail="x"),
    "1 MB of lines with tabs": lambda: full("\ta: b\n"),
    "1 MB of quoted tabs": lambda: full('"\t"', head="trip: "),
    "1 MB of CRLF": lambda: full("\r\n", head="trip:"),
    "1 MB of CR": lambda: full("\r", head="trip:"),
    "1 MB of keys with CRLF": lambda: numbered("k#: v\r\n%%", values=10**9),
    "1 MB of U+2028": lambda: full("\u2028"),
    "1 MB of emoji": lambda: full("😀", head="trip: "),
    "byte order mark": lambda: {TRIP: b"\xef\xbb\xbf" + (trip() + "extra: 1\n").encode()},
    "UTF-16": lambda: {TRIP: (trip() + "# note\n" * 70_000).encode("utf-16")},
    "UTF-16 without mark": lambda: {TRIP: trip().encode("utf-16-le")},
    "UTF-32": lambda: {TRIP: trip().encode("utf-32")},
    "not UTF-8 at the end": lambda: {TRIP: b"# x\n" * 249_000 + b"\xff\xfe"},
    # YAML
    "deep lists": lambda: full("["),
    "deep lists in a key": lambda: full("[", head="trip: "),
    "deep maps": lambda: full("{a: "),
    "deep dashes": lambda: full("- "),
    "deep keys": lambda: full("? "),
    "deep indentation": lambda: alone("".join(" " * level + f"a{level}:\n" for level in range(1300))),
    "closing brackets": lambda: full("]", head="trip: "),
    "commas": lambda: full(",", head="trip: [a"),
    "flow list not closed": lambda: full("a, ", head="trip: ["),
    "flow keys not closed": lambda: full("a: b, ", head="trip: {"),
    "possible keys": lambda: full("x ? y\n"),
    "alias bomb": lambda: alone(tower(9, 9)),
    "wide alias bomb": lambda: alone(tower(4, 130)),
    "aliases of a large map": lambda: alone(
        "a: &a {" + ", ".join(f"k{n}: v" for n in range(9000)) + "}\nb: [" + "*a, " * 200_000 + "]\n"
    ),
    "anchors": lambda: numbered("&a# ", head="trip: [", tail="]"),
    "anchored values": lambda: numbered("&a# x, %", head="trip: [", tail="]"),
    "unknown aliases": lambda: numbered("*a#, %", head="trip: [", tail="]"),
    "tags": lambda: full("!!python/object:os.system x\n", head="trip:\n"),
    "tagged values": lambda: full("!t x, ", head="trip: [", tail="]"),
    "merge keys": lambda: full("<<: *a\n", head="a: &a {b: c}\n"),
    "documents": lambda: full("---\na: b\n"),
    "directives": lambda: full("%YAML 1.1\n"),
    "lost comments": lambda: full("a #3\n", head="trip: x\n"),
    "no space after colon": lambda: full("{a:b},", head="trip: [", tail="]"),
    "complex keys": lambda: full("? [a]\n: b\n"),
    # keys
    "100,000 unknown keys": lambda: alone(trip() + _spread(100_000, "k#: \n")[: 999_000 - len(trip())]),
    "unknown keys": lambda: numbered("k#: v\n%%", head=trip(), values=MOST_NODES - 40),
    "unknown keys like known ones": lambda: numbered("legs#: v\n%%", head=trip(), values=MOST_NODES - 40),
    "long unknown keys": lambda: numbered(
        "supplies_and_devices_" * 4 + "#: v\n%%", head=trip(), values=MOST_NODES - 40
    ),
    "1 MB of duplicate keys": lambda: full("trip: again\n", head=trip()),
    "duplicate keys": lambda: numbered("trip: again\n%%", head=trip(), values=MOST_NODES - 40),
    "duplicate supplies": lambda: numbered(
        "cart: {pipeline: true}, %%%%", head=HEAD + DEVICES + LEGS + "supplies: {", tail="}", values=MOST_NODES - 40
    ),
    "misspelt at every level": misspelt,
    # lists of a trip, sound and not
    "legs": lambda: numbered(
        f"- {LEG}\n".replace("Ride", "Ride #") + "%" * 10, head=trip(legs="legs:\n"), values=MOST_NODES - 30
    ),
    "1 MB of legs": lambda: full(f"- {LEG}\n", head=trip(legs="legs:\n")),
    "legs of nothing": lambda: numbered("- {}\n%", head=trip(legs="legs:\n"), values=MOST_NODES - 30),
    "legs that are texts": lambda: numbered("- leg #\n%", head=trip(legs="legs:\n"), values=MOST_NODES - 30),
    "legs with wrong values": lambda: numbered(
        "- {name: '', duration: 12, supply: crt, devices: [canula], by: aeroplane, magnet: yes}\n" + "%" * 14,
        head=trip(legs="legs:\n"),
        values=MOST_NODES - 30,
    ),
    "legs with wrong keys": lambda: numbered(
        "- {nam: x, durations: 1 min, supplies: cart, device: [cannula]}\n" + "%" * 10,
        head=trip(legs="legs:\n"),
        values=MOST_NODES - 30,
    ),
    "uses": lambda: numbered(
        "{use: cannula, flow: # L/min}, " + "%" * 5,
        head=trip(legs="legs: [{name: Ride, duration: 1 min, supply: cart, devices: ["),
        tail="]}]",
        values=MOST_NODES - 40,
    ),
    "unknown uses": unknown_devices,
    "devices": lambda: numbered(
        "  d#: {type: nasal_cannula, flow: 2 L/min}\n" + "%" * 6,
        head=HEAD + SUPPLIES + LEGS + "devices:\n",
        values=MOST_NODES - 40,
    ),
    "1 MB of devices": lambda: full(
        "  d: {type: nasal_cannula, flow: 2 L/min}\n", head=HEAD + SUPPLIES + LEGS + "devices:\n"
    ),
    "devices with wrong values": lambda: numbered(
        "  d#: {type: nasal_canula, flow: '#', fio2: 60, if_it_fails: nobody}\n" + "%" * 10,
        head=HEAD + SUPPLIES + LEGS + "devices:\n",
        values=MOST_NODES - 40,
    ),
    "circle of devices": circle,
    "legs and devices": legs_and_devices,
    "cylinders": lambda: numbered(
        "{label: '#', size: US-E, gauge: 2000 psi}, " + "%" * 7,
        head=HEAD + DEVICES + LEGS + "supplies: {cart: {cylinders: [",
        tail="]}}",
        values=MOST_NODES - 40,
    ),
    "1 MB of cylinders": lambda: full(
        "{label: A, size: US-E, gauge: 2000 psi}, ",
        head=HEAD + DEVICES + LEGS + "supplies: {cart: {cylinders: [",
        tail="]}}",
    ),
    "cylinders with wrong values": lambda: numbered(
        "{label: '#', size: USE#, gauge: #, contents: # L, outlets: [flowmeter], gas: oxigen}, " + "%" * 14,
        head=HEAD + DEVICES + LEGS + "supplies: {cart: {cylinders: [",
        tail="]}}",
        values=MOST_NODES - 40,
    ),
    "cylinders by label": lambda: numbered(
        "{label: '#', contents: 68# L at 2015 psi, gauge: 200 psi}, " + "%" * 7,
        head=HEAD + DEVICES + LEGS + "supplies: {cart: {cylinders: [",
        tail="]}}",
        values=MOST_NODES - 40,
    ),
    "one manifold": lambda: numbered(
        "{label: '#', size: US-E, gauge: # psi}, " + "%" * 7,
        head=HEAD + DEVICES + LEGS + "supplies: {cart: {manifold: true, cylinders: [",
        tail="]}}",
        values=MOST_NODES - 40,
    ),
    "supplies": lambda: numbered(
        "  s#: {pipeline: true}\n" + "%" * 4, head=HEAD + DEVICES + LEGS + "supplies:\n", values=MOST_NODES - 40
    ),
    "supplies of every kind": lambda: numbered(
        "  s#: {pipeline: true, litres: 3 L, sizes: [E], backup: s#, gauge: 1}\n" + "%" * 13,
        head=HEAD + DEVICES + LEGS + "supplies:\n",
        values=MOST_NODES - 40,
    ),
    "sizes": lambda: numbered(
        "US-E#, %", head=HEAD + DEVICES + LEGS + "supplies: {cart: {sizes: [", tail="]}}", values=MOST_NODES - 40
    ),
    "what-ifs": lambda: numbered(
        "cylinder_lost, %",
        head=HEAD + SUPPLIES + DEVICES + LEGS + "policy: {must_hold: [",
        tail="]}",
        values=MOST_NODES - 60,
    ),
    "delays": lambda: numbered(
        "{reason: lift #, time: 0 min}, " + "%" * 5,
        head=trip(legs="legs: [{name: Ride, duration: 1 min, supply: cart, devices: [cannula], delays: ["),
        tail="]}]",
        values=MOST_NODES - 60,
    ),
    "lists for values": lambda: numbered("x: [#], %%%", head=trip() + "setting: {", tail="}", values=MOST_NODES - 60),
    # other units than the table's: these ask the units library
    "unknown units": lambda: numbered(
        "  d#: {type: nasal_cannula, flow: 2 parsec}\n" + "%" * 6,
        head=HEAD + SUPPLIES + LEGS + "devices:\n",
        values=MOST_NODES - 40,
    ),
    "unknown units, all different": lambda: alone(
        HEAD
        + SUPPLIES
        + LEGS
        + "devices:\n"
        + "".join(
            f"  d{n}: {{type: nasal_cannula, flow: 2 {a}{b}gallon}}\n"
            for n, (a, b) in enumerate(
                (a, b) for a in "abcdefghijklmnopqrstuvwxyzKMGT" for b in "abcdefghijklmnopqrstuvwxyzKMGT"
            )
        )
    ),
    "time zones": lambda: alone(trip() + "timezone: Europe/Nowhere\ndeparts: 2026-02-30 25:61\n"),
    # files beside the profile
    "policy of 10 MB": lambda: policy_beside(b"name: " + b"x" * 10_000_000),
    "policy of unknown keys": lambda: policy_beside("".join(f"reserve_time{n}: 1\n" for n in range(9_900))),
    "policy of NULs": lambda: policy_beside(b"\0" * 999_000),
    "policy in UTF-16": lambda: policy_beside("name: x\n".encode("utf-16")),
    "policy of an alias bomb": lambda: policy_beside(tower(9, 9)),
    "policy is the profile": lambda: alone("policy: trip.yaml\n" + trip()),
    "policy is a device of the system": lambda: alone("policy: /dev/zero\n" + trip()),
    "own lines": lambda: own_lines_beside("lines:\n" + "- {list: arrival, text: Look}\n" * 3_900),
    "own lines with wrong values": lambda: own_lines_beside(
        "lines:\n" + "- {list: arival, txt: Look, source: [x]}\n" * 2_400
    ),
    "own lines, deep": lambda: own_lines_beside("[" * 999_000),
    "store": lambda: store_beside("cylinders:\n" + _spread(2_800, "- {label: '#', size: US-E, gauge: 2000 psi}\n")),
    "store with wrong values": lambda: store_beside(
        "cylinders:\n" + _spread(2_800, "- {label: A, size: E#, gauge: # PSI}\n")
    ),
    "one store for all": many_stores,
    "a store for each": many_files,
}


def sizes(files: Files) -> Iterable[tuple[str, int]]:
    """Name and size of each file of a folder."""
    return ((name, len(data)) for name, data in files.items())


SOUND: Final = frozenset({"legs", "cylinders", "store", "own lines", "legs and devices"})
"""Samples with nothing wrong in them but their length: a trip is read from each."""
