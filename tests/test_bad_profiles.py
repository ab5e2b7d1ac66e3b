"""Every bad profile of tests/profiles/bad gives exactly the text beside it.

The place of each fault is marked in the profile itself, `# fault: CODE` at the end of its line, so that the texts are
held against places that the program did not work out.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planner.problems import ProblemsError
from planner.profile.read import read_trip

BAD = Path(__file__).parent / "profiles" / "bad"
NAMES = sorted(path.stem for path in BAD.glob("*.yaml"))
MADE_HERE = ("a_folder", "no_such_file", "not_utf8", "not_utf8_but_utf16", "two_megabytes")
"""Bad input that is no text, or too much of it, made by the tests below."""

LISTED = {
    "missing keys": ("no_format", "no_trip", "no_gauge", "no_label", "no_size", "no_flow", "no_type", "no_duration"),
    "misspelt keys": ("misspelt_top_key", "misspelt_legs", "misspelt_gauge", "misspelt_setting_of_device"),
    "missing units": ("unit_missing", "unit_of_pressure_missing", "unit_of_time_missing"),
    "wrong units": ("unit_wrong", "unit_in_capitals", "metres_for_minutes", "mmhg_on_a_cylinder"),
    "negative values": ("negative_flow", "negative_gauge", "negative_duration"),
    "zero-length values": ("zero_duration", "zero_delay", "zero_part_of_a_leg"),
    "not-a-number values": ("not_a_number", "infinite", "a_word_for_a_number", "comma", "exponent"),
    "FiO2 out of range": ("fio2_below_air", "fio2_above_one", "fio2_above_hundred_percent"),
    "FiO2 without percent sign": ("fio2_percent_sign_missing",),
    "empty legs": ("empty_legs", "legs_without_value", "leg_without_devices", "no_devices_in_leg"),
    "unknown supply or device": (
        "unknown_supply",
        "unknown_supply_of_a_use",
        "unknown_device",
        "unknown_device_behind",
    ),
    "duplicate keys": ("duplicate_key",),
    "not YAML, or no profile": ("not_yaml", "not_a_profile", "a_sentence", "tab", "tag"),
    "empty": ("empty", "only_comments"),
    "no text": MADE_HERE,
    "size without its system": ("bare_size", "bare_size_of_one_system"),
    "driving gas forgotten": ("pneumatic_without_drive_gas",),
    "leak forgotten": ("no_leak",),
    "yes and no": ("yes_and_no", "true_in_quotes"),
    "1:30": ("clock_time_for_a_duration",),
    "many at once": ("many_faults",),
}
_MARK = re.compile(r"# fault: (\w+)$")
_BESIDE = re.compile(r"beside/\w+_with_faults\.yaml")


def problems_of(name: str | Path) -> ProblemsError:
    """What reading a profile raises."""
    with pytest.raises(ProblemsError) as caught:
        read_trip(name)
    return caught.value


def expected(name: str) -> str:
    """The text beside a profile."""
    return (BAD / f"{name}.expected").read_text(encoding="utf-8")


def told(name: str | Path) -> str:
    """The text that a profile gives, with the slashes of any system written alike."""
    return str(problems_of(name)).replace("\\", "/") + "\n"


def marks(path: Path) -> list[tuple[str, int, str]]:
    """File, line and code of every fault marked in a profile and in the files beside it that it names."""
    lines = path.read_text(encoding="utf-8").splitlines()
    found = [(path.as_posix(), number, mark[1]) for number, line in enumerate(lines, 1) if (mark := _MARK.search(line))]
    for other in _BESIDE.findall("\n".join(lines)):
        found += marks(Path(other))
    return sorted(found)


@pytest.mark.parametrize("name", NAMES)
def test_bad_profile_gives_the_text_beside_it(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(BAD)
    assert told(f"{name}.yaml") == expected(name)


@pytest.mark.parametrize("name", [name for name in NAMES if "# fault:" in (BAD / f"{name}.yaml").read_text("utf-8")])
def test_each_fault_is_told_once_on_its_own_line(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(BAD)
    problems = problems_of(f"{name}.yaml").problems
    assert sorted((Path(p.file).as_posix(), p.line, p.code) for p in problems) == marks(Path(f"{name}.yaml"))


@pytest.mark.parametrize("name", NAMES)
def test_column_stands_on_something(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(BAD)
    for problem in problems_of(f"{name}.yaml").problems:
        if name in ("empty", "not_yaml"):
            continue  # nothing there to stand on
        line = Path(problem.file).read_text(encoding="utf-8").splitlines()[problem.line - 1]
        assert line[problem.column - 1].strip() or problem.code == "tab"


def test_every_text_has_its_profile() -> None:
    assert sorted(path.stem for path in BAD.glob("*.expected")) == sorted([*NAMES, *MADE_HERE])


@pytest.mark.parametrize("line", sorted(LISTED))
def test_every_kind_of_bad_input_has_a_profile(line: str) -> None:
    assert set(LISTED[line]) <= {*NAMES, *MADE_HERE}


def test_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a_folder.yaml").mkdir()
    assert told("a_folder.yaml") == expected("a_folder")


def test_no_such_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert told("no_such_file.yaml") == expected("no_such_file")


def test_two_megabytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "two_megabytes.yaml").write_text("profile: 1\n" + "# and so on\n" * 170_000, encoding="utf-8")
    assert told("two_megabytes.yaml") == expected("two_megabytes")


def test_not_utf8(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "not_utf8.yaml").write_bytes("profile: 1\ntrip: Café to ward\n".encode("latin-1"))
    assert told("not_utf8.yaml") == expected("not_utf8")


def test_not_utf8_but_utf16(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "not_utf8_but_utf16.yaml").write_text("profile: 1\n", encoding="utf-16")
    assert told("not_utf8_but_utf16.yaml") == expected("not_utf8_but_utf16")
