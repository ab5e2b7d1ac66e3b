"""The built package works alone: outside the checkout, without network, writing nowhere but where it was told to."""

from __future__ import annotations

import email
import json
import os
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

from planner import __version__

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
BUILD = """
import sys
from hatchling.build import build_sdist, build_wheel
build_wheel(sys.argv[1])
build_sdist(sys.argv[1])
"""

# Python tells an audit hook of every file that is opened, moved or removed, of every socket and every process, before
# it happens; no module of Python goes around it. What is told is kept and not forbidden, so that one run shows all.
WATCH = """
import json, os, sys
report, allowed = open(sys.argv[1], "w"), os.path.realpath(sys.argv[2]) + os.sep
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
CHANGES = {"os." + name for name in "mkdir rename remove rmdir link symlink truncate chmod utime".split()}
STARTS = {"subprocess.Popen", "os.system", "os.exec", "os.fork", "os.forkpty", "os.posix_spawn", "os.spawn"}
seen = []

def watch(event, args):
    if event.startswith("socket.") or event in STARTS:
        seen.append(event)
    elif event == "open" and isinstance(args[0], (str, bytes)) and args[2] & WRITES:
        note(event, args[0])
    elif event in CHANGES:
        note(event, args[0])
        if event == "os.rename":
            note(event, args[1])

def note(event, path):
    real = os.path.realpath(os.fsdecode(path))
    if real != os.devnull and not (real + os.sep).startswith(allowed):
        seen.append(event + " " + real)

sys.addaudithook(watch)
try:
    exec(sys.argv[3])
finally:
    json.dump(seen, report)
    report.close()
"""
COMMAND = "from planner.command.cli import main; main({!r})"


def built(folder: Path, target: Path) -> tuple[Path, Path]:
    """The wheel and the sdist of a checkout."""
    pytest.importorskip("hatchling", reason="needs the build backend")
    target.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", BUILD, str(target)], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    (wheel,) = target.glob("*.whl")
    (sdist,) = target.glob("*.tar.gz")
    return wheel, sdist


@pytest.fixture(scope="module")
def packages(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    return built(ROOT, tmp_path_factory.mktemp("built") / "dist")


@pytest.fixture(scope="module")
def site(packages: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, unpacked as an installer does."""
    folder = tmp_path_factory.mktemp("site")
    with zipfile.ZipFile(packages[0]) as wheel:
        wheel.extractall(folder)  # noqa: S202 - made a moment ago by this test
    return folder


def environment(site: Path, **more: str) -> dict[str, str]:
    kept = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    return {**kept, "PYTHONPATH": str(site), "PYTHONDONTWRITEBYTECODE": "1", "PYTHONUTF8": "1", **more}


def run(site: Path, folder: Path, *arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "planner", *arguments],
        cwd=folder,
        env=environment(site, **more),
        capture_output=True,
        encoding="utf-8",
        check=False,
    )


def watched(site: Path, folder: Path, allowed: Path, code: str) -> tuple[list[str], subprocess.CompletedProcess[str]]:
    """What a piece of code touched outside a folder, and how it ended."""
    report = folder.with_name(f"{folder.name}-report.json")
    done = subprocess.run(
        [sys.executable, "-c", WATCH, str(report), str(allowed), code],
        cwd=folder,
        env=environment(site),
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    seen: list[str] = json.loads(report.read_text(encoding="utf-8"))
    return seen, done


@pytest.fixture
def away(tmp_path: Path) -> Path:
    """A folder far from the checkout with the profiles in it."""
    shutil.copytree(ROOT / "profiles", tmp_path / "trips")
    return tmp_path / "trips"


def test_the_wheel_holds_all_of_the_package_and_nothing_else(packages: tuple[Path, Path]) -> None:
    with zipfile.ZipFile(packages[0]) as wheel:
        names = {name for name in wheel.namelist() if not name.endswith("/")}
        described = email.message_from_bytes(wheel.read(f"transport_oxygen-{__version__}.dist-info/METADATA"))
        scripts = wheel.read(f"transport_oxygen-{__version__}.dist-info/entry_points.txt").decode()
    have = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "planner").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert {name for name in names if ".dist-info/" not in name} == have
    assert {f"{Path(name).parent.name}/{Path(name).name}" for name in have} >= {
        "data/cylinder_sizes.csv",
        "schema/profile.schema.json",
        "fonts/PlanSans.ttf",
        "planner/py.typed",
    }
    assert described["Version"] == __version__
    assert "transport-oxygen = planner.__main__:run" in scripts


def test_the_sdist_makes_the_same_wheel(packages: tuple[Path, Path], tmp_path: Path) -> None:
    wheel, sdist = packages
    with tarfile.open(sdist) as packed:
        packed.extractall(tmp_path, filter="data")
    (folder,) = tmp_path.iterdir()
    for name in ("README.md", "CHANGELOG.md", "profiles/ward-to-scan.yaml", "tests/HAZARDS.md", "demo/run.py"):
        assert (folder / name).is_file()
    again, _ = built(folder, tmp_path / "again")
    assert again.read_bytes() == wheel.read_bytes()


def test_the_package_says_which_pythons_it_was_made_for() -> None:
    named = {line.rpartition(" ")[2] for line in PROJECT["classifiers"] if line.startswith("Programming Language")}
    assert PROJECT["requires-python"] == ">=3.11"
    assert f"{sys.version_info.major}.{sys.version_info.minor}" in named


def test_the_package_plans_outside_the_checkout(site: Path, away: Path) -> None:
    done = run(site, away, "plan", "ward-to-scan.yaml", "--output", "out", "--format", "text,pdf,csv")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("GO - ")
    assert (away / "out" / "ward-to-scan.pdf").read_bytes().startswith(b"%PDF-")
    assert run(site, away, "check", "helicopter.yaml").stdout == "helicopter.yaml: no problems\n"
    assert "US-E" in run(site, away, "catalog").stdout
    assert json.loads(run(site, away, "schema").stdout)["$schema"]
    # By the README's pencil: (1500 - 500) psi x 0.28 L/psi / 4 L/min = 70 min, and the real gas agrees.
    answer = run(site, away, "lasts", "--size", "US-E", "--gauge", "1500 psi", "--flow", "4 L/min")
    assert answer.stdout.startswith("70 min ")


VERBS = {
    "plan": ["plan", "two-patients.yaml", "--format", "text,json,csv,pdf", "--fillable", "--output", "out"],
    "plan, no-go": ["plan", "ward-to-scan.yaml", "--set", 'trolley.A.gauge="600 psi"', "--output", "out"],
    "check": ["check", "helicopter.yaml"],
    "new": ["new", "--from", "ward-to-scan.yaml", "--set", "legs[1].duration=9 min", "--output", "out/new.yaml"],
    "lasts": ["lasts", "--size", "US-E", "--gauge", "1500 psi", "--flow", "4 L/min"],
    "measured-flow": [
        *(
            "measured-flow",
            "--size",
            "US-E",
            "--from-gauge",
            "1500 psi",
            "--to-gauge",
            "1100 psi",
            "--minutes",
            "30 min",
        ),
    ],
    "compare": ["compare", "from-the-store.yaml", "readings/from-the-store.yaml"],
    "shift": ["shift", "ward-to-scan.yaml", "--jobs", "1", "--output", "out", "--format", "text,pdf,csv"],
    "catalog": ["catalog"],
    "schema": ["schema"],
}


@pytest.mark.parametrize("arguments", VERBS.values(), ids=VERBS)
def test_no_verb_speaks_to_a_network_starts_a_process_or_writes_outside_its_folder(
    arguments: list[str], site: Path, away: Path
) -> None:
    (away / "out").mkdir()
    seen, done = watched(site, away, away / "out", COMMAND.format(arguments))
    assert seen == []
    assert done.returncode in {0, 3}, done.stderr
    assert done.stdout


@pytest.mark.parametrize(
    ("code", "told"),
    [
        ("open('beside.txt', 'w').close()", "open "),
        ("open('out/within.txt', 'w').close()", None),
        ("import os; os.mkdir('beside')", "os.mkdir "),
        ("import os; os.replace('README.md', 'out/README.md')", "os.rename "),
        ("import socket; socket.socket().close()", "socket.__new__"),
        ("import subprocess, sys; subprocess.run([sys.executable, '-c', ''])", "subprocess.Popen"),
    ],
)
def test_the_watch_sees(code: str, told: str | None, site: Path, away: Path) -> None:
    (away / "out").mkdir()
    seen, done = watched(site, away, away / "out", code)
    assert done.returncode == 0, done.stderr
    assert [told for line in seen if line.startswith(told or "?")][:1] == ([told] if told else [])
    assert bool(seen) == (told is not None)


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ("transport-oxygen pl", "plain,plan"),
        ("transport-oxygen plan --pap", "plain,--paper"),
        ("transport-oxygen plan --paper let", "plain,letter"),
        ("transport-oxygen plan war", "file,war"),
        ("transport-oxygen compare trip.yaml rea", "file,rea"),
    ],
)
def test_the_shell_completes_verbs_options_and_files(words: str, offered: str, site: Path, away: Path) -> None:
    number = str(len(words.split()) - 1)
    given = {"_TRANSPORT_OXYGEN_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": number}
    assert run(site, away, **given).stdout == f"{offered}\n"


def test_the_shell_gets_its_script_and_the_readme_says_how(site: Path, away: Path) -> None:
    script = run(site, away, _TRANSPORT_OXYGEN_COMPLETE="zsh_source").stdout
    assert script.startswith("#compdef transport-oxygen\n")
    assert "_TRANSPORT_OXYGEN_COMPLETE=bash_source transport-oxygen" in (ROOT / "README.md").read_text(encoding="utf-8")
