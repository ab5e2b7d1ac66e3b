"""Text that the pages cannot show is told when a profile is read, with its place, and not first by the drawing."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from planner.command.cli import main
from planner.pages.drawing import fonts
from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip, read_trip
from planner.profile.store import read_store
from planner.text import source
from planner.text.letters import SHOWN, escaped, named, replaced, unshown
from planner.text.source import Node
from tests.tools.make_fonts import pattern

ROOT = Path(__file__).resolve().parents[1]
FACES = sorted((ROOT / "planner" / "fonts").glob("*.ttf"))
ISSUED = datetime(2026, 12, 3, 13, 5)

EVERY_TEXT = """\
profile: 1
trip: Two patients, ward to clinic
reference: T-17
setting: road
departs: 2026-12-03 14:20
timezone: Europe/Oslo
policy: {file: policy.yaml, name: Night, own_lines: own.yaml, must_hold: [cylinder_lost], pressure_unit: psi}
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2100 psi, outlets: [{flowmeter: 25 L/min}, high_pressure]}
      - {label: B, contents: 680 L at 2015 psi, gauge: 1950 psi, gas: oxygen, checked: 2026-12-03 14:00}
  spare:
    store: store.yaml
    prefer: part_used
    places: 3
  ambulance:
    fixed: true
    backup: cart
    cylinders: [{label: main, size: US-M, gauge: 1900 psi, outlets: [{flowmeter: 15 L/min}, high_pressure]}]
devices:
  vent: {type: ventilator, drive: electric, tidal_volume: 450 mL, rate: 16/min, fio2: 60 %, bias_flow: 0 L/min,
    leak: 0 L/min, if_it_fails: bag, outlet: high_pressure, patient: first}
  bag: {type: manual_resuscitator, flow: 15 L/min}
  cannula: {type: nasal_cannula, flow: 2 L/min, may_rise_to: bag, patient: second}
legs:
  - {name: Ward to bay, duration: 10 min, delays: [{reason: lift, time: 4 min}], supply: cart, devices: [vent]}
  - {name: Road, duration: 20 min, by: road, supply: ambulance, divert: {to: Hill clinic, time: 5 min},
    devices: [{use: vent, supply: cart, fio2: 50 %}, cannula]}
  - {name: Bay to clinic, duration: 5 min, supply: spare, devices: [cannula]}
"""
BESIDE = {
    "policy.yaml": "name: Night crew\nchange_over_at: 300 psi\nown_lines: own.yaml\n",
    "own.yaml": "lines:\n  - {list: return, text: Tell the store, source: Ward rule 4}\n",
    "store.yaml": "name: Cart room\ncylinders: [{label: S1, size: US-E, gauge: 2000 psi, checked: 2026-12-03 14:00}]\n",
}


def test_the_table_is_that_of_the_fonts() -> None:
    """The code points of the character maps of the font files, read by fontTools; python tests/tools/make_fonts.py."""
    held = set.intersection(*(set(TTFont(path).getBestCmap()) for path in FACES))
    assert pattern(held) == SHOWN
    assert {code for code in range(0x21, 0x30000) if not unshown(chr(code)) and not chr(code).isspace()} == {
        code
        for code in range(0x21, 0x30000)
        if {ord(part) for part in unicodedata.normalize("NFC", chr(code))} <= held and not chr(code).isspace()
    }


@given(st.text(st.sampled_from("aZ0 \t\u00a0\u3000éẞΩάἀЖї三🛒ก\u0301\u0313\u0345\u0e31\u200d−≥½\x07\ue000")))
def test_reading_and_drawing_agree(text: str) -> None:
    if unshown(text):
        with pytest.raises(fonts.UnprintableError) as caught:
            fonts.clean(text)
        assert caught.value.character == unshown(text)[0]
    else:
        fonts.clean(text)
    fonts.clean(escaped(text))
    fonts.clean(replaced(text, lambda _: "?"))


def test_letters_in_a_message() -> None:
    assert named("三") == "三 (U+4E09)"
    assert named("\ue000\u0e31") == "U+E000, U+0E31"  # none: it has no shape; a mark: it would sit on its neighbour
    assert named("一二三四五六") == "一 (U+4E00), 二 (U+4E8C), 三 (U+4E09), 四 (U+56DB) and 2 more"


def scalars(node: Node, path: tuple[int, ...] = ()) -> Iterator[tuple[int, ...]]:
    """The way to every name and value of a tree: places in lists; twice the place of a pair, and one more its value."""
    if node.kind == "scalar":
        yield path
    for number, item in enumerate(node.items):
        yield from scalars(item, (*path, number))
    for number, (key, value) in enumerate(node.pairs):
        yield from scalars(key, (*path, 2 * number))
        yield from scalars(value, (*path, 2 * number + 1))


def changed(node: Node, path: tuple[int, ...]) -> Node:
    """The same tree with a letter that no page can show behind one text."""
    if not path:
        return node._replace(text=f"{node.text}三")
    first, *rest = path
    if node.kind == "list":
        return node._replace(
            items=tuple(changed(n, tuple(rest)) if i == first else n for i, n in enumerate(node.items))
        )
    pairs = list(node.pairs)
    key, value = pairs[first // 2]
    if first % 2:
        pairs[first // 2] = (key, changed(value, tuple(rest)))
    else:
        pairs[first // 2] = (changed(key, tuple(rest)), value)
    return node._replace(pairs=tuple(pairs))


def write_beside(folder: Path) -> None:
    for name, text in BESIDE.items():
        (folder / name).write_text(text, encoding="utf-8")


def test_the_profile_of_every_text_is_good(tmp_path: Path) -> None:
    write_beside(tmp_path)
    assert pack_bytes(plan(parse_trip(EVERY_TEXT, folder=tmp_path)), issued=ISSUED)


@pytest.mark.parametrize("file", ["trip.yaml", *BESIDE])
def test_whatever_text_holds_such_a_letter_it_is_a_problem_there(
    file: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each name and value in turn; a quantity or a name that stands elsewhere too is refused for its own reason."""
    write_beside(tmp_path)
    texts = {"trip.yaml": EVERY_TEXT, **BESIDE}
    root = source.loads(texts[file]).root
    load = source.loads
    tried = 0
    for path in scalars(root):
        odd = changed(root, path)
        place = odd
        for step in path:
            place = place.items[step] if place.kind == "list" else place.pairs[step // 2][step % 2]

        def loads(text: str, name: str, odd: Node = odd) -> source.Document:
            found = load(text, name)
            return found._replace(text=f"{text}# 三", root=odd) if Path(name).name == file else found

        monkeypatch.setattr("planner.text.source.loads", loads)
        with pytest.raises(ProblemsError) as caught:
            parse_trip(EVERY_TEXT, folder=tmp_path)
        told = [problem for problem in caught.value.problems if Path(problem.file).name == file]
        assert (place.line, place.column) in {(each.line, each.column) for each in told}, place
        assert len({(each.line, each.column) for each in told}) == len(told), "one fault, told once"
        tried += 1
    assert tried >= 6


def test_a_store_by_itself(tmp_path: Path) -> None:
    path = tmp_path / "store.yaml"
    path.write_text(BESIDE["store.yaml"].replace("Cart room", "推車室"), encoding="utf-8")
    with pytest.raises(ProblemsError, match=r"store\.yaml:1:7  not_printable  `推車室` with 推"):
        read_store(path)


def test_a_value_of_the_command_line_is_told_as_such(tmp_path: Path) -> None:
    write_beside(tmp_path)
    for change in ("trip=病房", 'trip="\\u75c5\\u623f"'):
        with pytest.raises(ProblemsError, match=r"^--set trip:1:1  not_printable  `病房` with 病") as caught:
            parse_trip(EVERY_TEXT, folder=tmp_path, changes=[change])
        assert len(caught.value.problems) == 1
    mended = parse_trip(EVERY_TEXT, folder=tmp_path, changes=["trip=病房", "trip=Ward"])
    assert pack_bytes(plan(mended), issued=ISSUED), "a value that was changed again stands on paper by its numbers"


def test_a_comment_may_hold_any_letter(tmp_path: Path) -> None:
    write_beside(tmp_path)
    assert parse_trip(EVERY_TEXT + "# 病房\n", folder=tmp_path).name == "Two patients, ward to clinic"


@pytest.mark.parametrize("verb", ["check", "plan"])
@pytest.mark.parametrize("form", ["text", "json"])
def test_the_verbs_tell_it_and_write_nothing(verb: str, form: str, tmp_path: Path) -> None:
    """Also where only JSON is asked for: the trip is for paper, and another day it is printed."""
    write_beside(tmp_path)
    path = tmp_path / "trip.yaml"
    path.write_text(EVERY_TEXT.replace("Ward to bay", "病房"), encoding="utf-8")
    words = [verb, str(path)]
    if verb == "plan":
        words += ["--format", f"{form},pdf" if form == "text" else form, "--output", str(tmp_path / "out")]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 1
    assert f"{path}:27:12  not_printable  `病房` with 病 (U+75C5), 房 (U+623F); allowed: letters" in done.stderr
    assert done.stdout == ""
    assert not (tmp_path / "out").exists()


def test_a_folder_of_any_name_is_planned_from(tmp_path: Path) -> None:
    """Nobody can mend the name of a folder above: on paper its letters stand as their numbers."""
    folder = tmp_path / "病房"
    folder.mkdir()
    write_beside(folder)
    (folder / "行程.yaml").write_text(EVERY_TEXT, encoding="utf-8")
    assert pack_bytes(plan(read_trip(folder / "行程.yaml")), issued=ISSUED)
