"""A search for forms that break the reader of forms: `python -m tests.fuzz.forms --seconds 600 --seed 1`.

Bytes: a filled-in form is changed at random, within its numbers and names, and read. Values: at random, in the boxes of
a sound form, through the whole of `compare`. What may come of either are problems that can be told, and nothing else.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from io import BytesIO
from pathlib import Path
from random import Random
from typing import Final

from planner.afterwards.compare import compare
from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.readings import pdf_fields
from planner.readings.book import logbook
from planner.readings.form import Filled, form_tree
from planner.report.compare.compare import compare_text
from planner.report.compare.json import compare_result
from planner.report.log.log import log
from planner.results import Plan

TRIP: Final = """\
profile: 1
trip: Ward to scanner
setting: in_house
departs: 2026-12-03 23:40
timezone: Europe/Oslo
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 1900 psi, gauge_scale: 3000 psi}
      - {label: B, size: US-E, gauge: 2000 psi}
  bed: {manifold: true, cylinders: [{label: C, size: US-E, gauge: 2000 psi}, {label: D, size: US-E, gauge: 2000 psi}]}
  wall: {pipeline: true}
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: To the lift, duration: 30 min, supply: cart, devices: [mask]}
  - {name: To the scanner, duration: 40 min, supply: bed, devices: [mask]}
  - {name: Scan, duration: 20 min, supply: wall, devices: [mask]}
"""
WORDS: Final = (
    "1900", "1350 psi", "90 bar", "0", "-1", "1e9", "nan", "inf", "13OO", "1,900", "1 900 psi", "99999999 psi", "Yes",
    "00:15", "23:52", "24:00", "0015", "2:5", "2026-12-03 23:55", "2026-13-03 23:55", "15 min", "-5 min", "1e300 min",
    "6", "6 L/min", "6 L", "A", "B", "C", "D", "C+D", "cart", "wall", "\x1b[2J", "\u202e1900", "é" * 40, "x" * 299,
)  # fmt: skip


@cache
def planned() -> Plan:
    """The plan that the form is of."""
    made = plan(parse_trip(TRIP))
    assert made.go, "a no-go has no log"
    return made


@cache
def form() -> bytes:
    """The form with a reading in it."""
    from pypdf import PdfReader, PdfWriter

    data = pack_bytes(planned(), issued=datetime(2026, 12, 3, 23, 0), fillable=True, pages="crew")
    writer = PdfWriter(clone_from=PdfReader(BytesIO(data)))
    for page in writer.pages:
        writer.update_page_form_field_values(page, {"log.cart.A.1.gauge": "1900"}, auto_regenerate=False)
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def changed(data: bytes, random: Random) -> bytes:
    """The bytes of a file with a few changes: pieces lost, doubled or moved, numbers and names replaced."""
    found = bytearray(data)
    for _ in range(random.randint(1, 6)):
        place = max(0, found.find(random.choice([b"<<", b"obj", b"xref", b"trailer"]), random.randrange(len(found))))
        place += random.randrange(30)
        end = place + random.choice([1, 2, 10, 1000])
        piece = found[place:end]
        kind = random.randrange(7)
        if kind == 0:
            del found[place:end]
        elif kind == 1:
            found[place:place] = piece * random.randint(1, 5)
        elif kind == 2:
            found[place:end] = bytes(random.randrange(256) for _ in piece)
        elif kind == 3:
            other = random.randrange(len(found))
            found[other:other] = piece
        else:
            names = (
                b"/Kids",
                b"/Parent",
                b"/Annots",
                b"/V",
                b"/T",
                b"/Names",
                b"/Length",
                b"/Prev",
                b"/Filter",
                b" 0 R",
            )
            old, new = random.sample(names, 2)
            at = found.find(old, place)
            if at >= 0:
                found[at : at + len(old)] = new if kind < 6 else b"%d" % random.choice([0, -1, 3, 10**9])
    return bytes(found)


def read_bytes(data: bytes, folder: Path) -> str:
    """What the reader of a file's bytes answers, in a word. Raises what it should not."""
    path = folder / "form.pdf"
    path.write_bytes(data)
    pdf_fields.load()
    answer = pdf_fields.answer(str(path), "planned-from.json")
    if isinstance(answer, str):
        assert answer in ("too_much", "locked", "not_a_pdf"), answer
        return answer
    assert sum(len(name) + len(text) for name, text in answer["values"].items()) < 20_000_000
    return "read"


def values(random: Random) -> dict[str, str]:
    """Anything, in boxes of the log."""
    rows = [row.key for part in log(planned()) for row in part.rows]
    found = {}
    for _ in range(random.randint(1, 12)):
        box = random.choice(["gauge", "time", "flow", "cylinder", "initials"])
        text = random.choice(WORDS)
        if random.random() < 0.1:
            text = "".join(chr(random.choice([random.randrange(32, 300), random.randrange(0x3000)])) for _ in range(8))
        found[f"log.{random.choice(rows)}.{box}"] = text
    if random.random() < 0.5:
        found |= {"return.shut": "Yes", "return.bleed": "Yes"}
    return found


def compared(typed: Mapping[str, str]) -> str:
    """Compare what was typed with the plan: `read`, or the codes of its problems. Raises what it should not."""
    try:
        book = logbook(form_tree(Filled("form.pdf", dict(typed), planned())), "form.pdf", planned())
    except ProblemsError as error:
        for problem in error.problems:
            assert str(problem).isprintable(), repr(str(problem))
        return " ".join(sorted({problem.code for problem in error.problems}))
    found = compare(planned(), book)
    assert compare_text(found)
    assert compare_result(found)
    return "read"


def main() -> None:
    """Search for so many seconds; the first that breaks ends it with its error."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.forms", description="Searches for forms that break.")
    parser.add_argument("--seconds", type=float, default=600.0, help="time to search for (default: 600)")
    parser.add_argument("--seed", type=int, default=1, help="what all choices follow from (default: 1)")
    given = parser.parse_args()
    random = Random(given.seed)  # noqa: S311 - to be repeated, not to be secret
    began, counts = time.monotonic(), dict[str, int]()
    with tempfile.TemporaryDirectory() as folder:
        while time.monotonic() - began < given.seconds:
            for told in (read_bytes(changed(form(), random), Path(folder)), compared(values(random))):
                counts[told] = counts.get(told, 0) + 1
    for told, count in sorted(counts.items(), key=lambda pair: -pair[1])[:40]:
        print(f"{count:7}  {told}")


if __name__ == "__main__":
    main()
