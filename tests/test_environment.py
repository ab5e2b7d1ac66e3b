"""The set-up that `demo/run.py` and `tests/run.py` share: done once, mends what is broken, fails in one line."""

from __future__ import annotations

import ast
import hashlib
import importlib
import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
SCRIPTS = ("demo/environment.py", "demo/run.py", "tests/run.py")


@pytest.fixture
def environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The module, with its checkout in a folder of the test."""
    module = importlib.import_module("demo.environment")
    (tmp_path / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    folder = tmp_path / ".venv"
    for name, path in {
        "ROOT": tmp_path,
        "ENVIRONMENT": folder,
        "PYTHON": folder / "bin" / "python",
        "STAMP": folder / "installed.json",
        "LOG": folder / "install.log",
    }.items():
        monkeypatch.setattr(module, name, path)
    monkeypatch.chdir(tmp_path)
    return module


def processes(module: ModuleType, monkeypatch: pytest.MonkeyPatch, log: str = "", code: int = 0) -> list[str]:
    """Start no process: make what it would make. Returns what would have been started, by its first words."""
    started: list[str] = []

    def run(command: list[str], **options: Any) -> subprocess.CompletedProcess[str]:
        words = [str(word) for word in command]
        version = " ".join(str(number) for number in sys.version_info[:2])
        if words[1] == "-c":
            return subprocess.CompletedProcess(command, 0, version, "")
        started.append(" ".join(words[2:4]))
        if words[2] == "venv":
            module.ENVIRONMENT.mkdir(exist_ok=True)
            (module.ENVIRONMENT / "pyvenv.cfg").touch()
            return subprocess.CompletedProcess(command, 0, "", "")
        options["stdout"].write(log)
        return subprocess.CompletedProcess(command, code, "", "")

    monkeypatch.setattr(subprocess, "run", run)
    return started


def test_the_second_start_installs_nothing(environment: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    started = processes(environment, monkeypatch)
    environment.make_ready()
    assert started == ["venv --clear", "pip install"]
    environment.make_ready()
    assert started == ["venv --clear", "pip install"]


def test_the_test_extra_is_added_to_what_the_demo_made(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    started = processes(environment, monkeypatch)
    environment.make_ready()
    environment.make_ready("test")
    environment.make_ready()
    assert started == ["venv --clear", "pip install", "pip install"]
    assert json.loads(environment.STAMP.read_text())["extras"] == ["", "test"]


def test_other_dependencies_are_installed(environment: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    started = processes(environment, monkeypatch)
    environment.make_ready("test")
    changed = b"[project]\nname = 'x'\n"
    (environment.ROOT / "pyproject.toml").write_bytes(changed)
    environment.make_ready("test")
    assert started == ["venv --clear", "pip install", "pip install"]
    assert json.loads(environment.STAMP.read_text())["pyproject"] == hashlib.sha256(changed).hexdigest()


@pytest.mark.parametrize(
    ("log", "told"),
    [
        (
            "ERROR: No matching distribution found for click>=99\nnote: see above\n",
            "The installation failed. pip says: ERROR: No matching distribution found for click>=99",
        ),
        (
            "ERROR: Could not find a version that satisfies the requirement click (from versions: none)\nnote: above\n",
            (
                "The installation failed. The package index could not be reached; check the network or the proxy. "
                "pip says: ERROR: Could not find a version that satisfies the requirement click (from versions: none)"
            ),
        ),
    ],
)
def test_a_failed_installation_is_told_in_one_line_and_made_anew(
    environment: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    log: str,
    told: str,
) -> None:
    processes(environment, monkeypatch, log=log, code=1)
    with pytest.raises(environment.SetupError) as caught:
        environment.make_ready()
    assert str(caught.value) == f"{told} (the whole log: {Path('.venv', 'install.log')})"

    started = processes(environment, monkeypatch)
    environment.make_ready()
    assert "The environment in .venv was left half made: making it anew." in capsys.readouterr().out
    assert started == ["venv --clear", "pip install"]


def test_an_environment_that_was_moved_is_made_anew(environment: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    started = processes(environment, monkeypatch)
    environment.make_ready()
    stamp = json.loads(environment.STAMP.read_text())
    environment.STAMP.write_text(json.dumps(stamp | {"checkout": "elsewhere"}))
    environment.make_ready()
    assert started == ["venv --clear", "pip install"] * 2


def test_a_folder_that_is_no_environment_is_left_alone(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    started = processes(environment, monkeypatch)
    kept = environment.ENVIRONMENT / "notes.txt"
    environment.ENVIRONMENT.mkdir()
    kept.write_text("mine")
    with pytest.raises(environment.SetupError) as caught:
        environment.make_ready()
    assert str(caught.value) == (
        f"{environment.ENVIRONMENT} is not a virtual environment. Move it away, then start this again."
    )
    assert kept.read_text() == "mine"
    assert started == []


def test_python_without_ensurepip_is_told_what_to_install(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "ensurepip" else name)
    version = f"{sys.version_info[0]}.{sys.version_info[1]}"
    with pytest.raises(environment.SetupError) as caught:
        environment.make_ready()
    assert str(caught.value) == (
        f"This Python {version} cannot make virtual environments: a part of its standard library is missing. "
        f"On Debian and Ubuntu: sudo apt install python{version}-venv"
    )


@pytest.mark.parametrize("script", SCRIPTS)
def test_an_older_python_can_read_far_enough_to_be_told(script: str) -> None:
    # Python 3.6 is the oldest whose grammar has f-strings and annotated variables, and it refuses `annotations`.
    source = (ROOT / script).read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 6))
    assert "from __future__" not in source


@pytest.mark.parametrize("script", SCRIPTS)
def test_scripts_need_the_standard_library_alone(script: str) -> None:
    tree = ast.parse((ROOT / script).read_text(encoding="utf-8"))
    plain = [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    names = {*plain, *(str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom))}
    assert {name.split(".")[0] for name in names} - sys.stdlib_module_names <= {"environment"}


def test_what_is_compiled_is_kept_in_the_environment_and_nothing_beside_the_sources(
    environment: ModuleType, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Also where Python is told to keep nothing: every command of the suite would be compiled anew."""
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    monkeypatch.setattr(environment, "PYTHON", Path(sys.executable))
    (environment.ROOT / "one.py").write_text("")
    assert environment.run(["-c", "import sys; sys.path.insert(0, '.'); import one"]) == 0
    assert capfd.readouterr().err == ""
    assert sorted(path.name for path in environment.ROOT.iterdir()) == [".venv", "one.py", "pyproject.toml"]
    assert [path.name.partition(".")[0] for path in environment.ENVIRONMENT.rglob("one*.pyc")] == ["one"]
