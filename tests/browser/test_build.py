"""The build of the page, its stand-ins and the part of the program that answers it, without a browser."""

from __future__ import annotations

import hashlib
import importlib.util
import io
import json
import tarfile
import zipfile
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import rpds
from hypothesis import given
from hypothesis import strategies as st

from planner.browser import desk, inputs
from planner.browser.build import built
from planner.command.cli import main

ROOT = Path(__file__).resolve().parents[2]


def stand_in(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"stand_in_{name}", ROOT / f"planner/browser/standins/{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


STEPS = st.lists(st.tuples(st.sampled_from(["insert", "discard", "remove"]), st.integers(0, 5), st.integers()))


@given(STEPS)
def test_the_map_that_stands_in_does_what_the_library_does(steps: list[tuple[str, int, int]]) -> None:
    theirs: Any = rpds.HashTrieMap()
    mine = stand_in("rpds").HashTrieMap()
    for step, key, value in steps:
        before = dict(mine)
        arguments = (key, value) if step == "insert" else (key,)
        if step == "remove" and key not in theirs:
            with pytest.raises(KeyError):
                mine.remove(key)
            continue
        after = getattr(mine, step)(*arguments)
        assert dict(mine) == before, "a map never changes"
        mine, theirs = after, getattr(theirs, step)(*arguments)
        assert dict(mine) == dict(theirs)
        assert (key in mine, len(mine)) == (key in theirs, len(theirs))


@given(st.lists(st.integers(0, 5)), st.integers(0, 5))
def test_the_set_and_the_list_too(values: list[int], one: int) -> None:
    made = stand_in("rpds")
    assert set(made.HashTrieSet(values).insert(one)) == set(rpds.HashTrieSet(values).insert(one))
    assert set(made.HashTrieSet(values).discard(one)) == set(rpds.HashTrieSet(values).discard(one))
    assert list(made.List(values).push_front(one)) == list(rpds.List(values).push_front(one))
    assert made.List(values).push_front(one).first == one
    assert list(made.List(values).push_front(one).drop_first()) == list(rpds.List(values).push_front(one).drop_first())


def fake() -> dict[str, bytes]:
    """Inputs with the shape of the real ones, a few bytes each."""
    npm = {
        "pyodide": dict.fromkeys(("pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm", "python_stdlib.zip"), b"x")
        | {"pyodide-lock.json": b'{"info": {"abi_version": "1"}, "packages": {"a": 1}}'},
        "highs": {"build/highs.mjs": b"x", "build/highs.wasm": b"y", "LICENSE": b"terms <of> use"},
    }
    made = {}
    for one in inputs.locked():
        out = io.BytesIO()
        if one.source == "npm":
            with tarfile.open(fileobj=out, mode="w:gz") as archive:
                for name, data in npm[one.name].items():
                    entry = tarfile.TarInfo(f"package/{name}")
                    entry.size = len(data)
                    archive.addfile(entry, io.BytesIO(data))
        else:
            with zipfile.ZipFile(out, "w") as wheel:
                wheel.writestr(f"{one.name}/__init__.py", "")
                wheel.writestr(f"{one.name}/_fast.so", "compiled")
        made[one.name] = out.getvalue()
    return made


def test_the_same_inputs_and_date_give_the_same_bytes_and_others_another_fingerprint() -> None:
    given_ = fake()
    page = built(given_, date="2026-11-27", valid_for_days=180)
    assert built(given_, date="2026-11-27", valid_for_days=180) == page
    assert (
        built(given_ | {"click": given_["attrs"]}, date="2026-11-27", valid_for_days=180).fingerprint
        != page.fingerprint
    )
    text = page.data.decode()
    assert page.fingerprint in text
    assert "2026-11-27" in text
    assert "terms &lt;of&gt; use" in text
    assert 'src="' not in text


def test_an_input_that_is_not_the_locked_one_is_refused(tmp_path: Path) -> None:
    for one in inputs.locked():
        (tmp_path / one.file).write_bytes(b"something else")
    with pytest.raises(inputs.InputsError, match=r"sha256 .* the lock file says"):
        inputs.gathered(tmp_path)


def test_the_lock_names_each_library_that_the_program_declares() -> None:
    names = {one.name for one in inputs.locked()}
    assert names >= {"click", "jsonschema", "pint", "pypdf", "pyyaml", "reportlab", "tzdata", "highs", "pyodide"}
    assert all(len(one.sha256) == len(hashlib.sha256().hexdigest()) for one in inputs.locked())


@pytest.fixture
def ward() -> bytes:
    return (ROOT / "profiles/ward-to-scan.yaml").read_bytes()


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_desk_gives_what_the_command_gives(ward: bytes, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "ward.yaml").write_bytes(ward)
    words = ["plan", "ward.yaml", "--format", "text,json"]
    code = main.main(words, standalone_mode=False)
    shown: Any = capsys.readouterr()
    said = desk.run(words, {"ward.yaml": ward})
    assert (said["code"], said["out"], said["err"], said["files"]) == (code, shown.out, shown.err, {})
    assert Path.cwd() == here


def test_a_file_is_found_where_another_names_it() -> None:
    """A profile that names `policies/ground.yaml`, opened beside it: no folder can be dropped into a page."""
    road = (ROOT / "profiles/ventilated-by-road.yaml").read_bytes()
    ground = (ROOT / "profiles/policies/ground.yaml").read_bytes()
    assert desk.run(["check", "road.yaml"], {"road.yaml": road, "ground.yaml": ground})["code"] == 0
    alone = desk.run(["check", "road.yaml"], {"road.yaml": road})
    assert alone["code"] == 1
    assert "ground.yaml" in alone["err"]


@pytest.mark.parametrize("place", ["/etc/x.yaml", "../../../../../../../x.yaml", "a/b.yaml/x.yaml"])
def test_no_file_is_written_outside_its_own_folder(place: str, here: Path) -> None:
    before = sorted(Path("/etc").iterdir())
    said = desk.run(["check", "t.yaml"], {"t.yaml": f"policy: {place}\n".encode(), "x.yaml": b"policy: 1\n"})
    assert said["code"] == 1
    assert sorted(Path("/etc").iterdir()) == before
    assert sorted(here.iterdir()) == []


def test_questions_go_on_from_the_answers_given() -> None:
    first = desk.ask([])
    assert (first["taken"], first["refused"]) == (0, "")
    assert first["text"] == "How does the patient travel?"
    second = desk.ask(["1"])
    assert second["text"] == "From where to where?"
    refused = desk.ask(["1", ""])
    assert refused["taken"] == 1
    assert refused["refused"]
    assert refused["text"] == second["text"]
    assert json.dumps(refused)
