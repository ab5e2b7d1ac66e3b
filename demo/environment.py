"""A virtual environment in `.venv`, with this checkout installed in it: what `demo/run.py` and `tests/run.py` share.

Only the standard library is used. Every step is a short line on the screen; a step that fails raises
`SetupError` with one line that says what to do.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - whoever starts this by hand may have an older Python
    sys.exit(
        "Python 3.11 or newer is needed, and this is Python %d.%d. "  # noqa: UP031 - the oldest form
        "Install a newer one and start this script with it, for example: python3.11 %s"
        % (sys.version_info[0], sys.version_info[1], sys.argv[0])
    )

import hashlib
import importlib.util
import json
import os
import subprocess
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ENVIRONMENT = ROOT / ".venv"
PYTHON = ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
STAMP = ENVIRONMENT / "installed.json"
"""What has been installed, and from what; says `"complete": false` while an installation is under way."""
LOG = ENVIRONMENT / "install.log"

OFFLINE_SIGNS = (
    "Failed to establish a new connection",
    "NewConnectionError",
    "NameResolutionError",
    "ConnectTimeoutError",
    "Network is unreachable",
    "Cannot connect to proxy",
    "(from versions: none)",
)


class SetupError(Exception):
    """A step of the set-up failed; the message is one line for the person at the keyboard."""


def step(text: str) -> None:
    """Show a step at once, also where the output is a file or a pipe."""
    print(text, flush=True)


def shown(path: Path) -> str:
    """A path as the user would type it: relative to where they are, where it lies below."""
    try:
        return str(path.relative_to(Path.cwd()))
    except ValueError:
        return str(path)


def make_ready(extra: str = "") -> Path:
    """Make or mend the environment and install the checkout, with an extra of pyproject.toml if one is named.

    Returns the Python of the environment. Does nothing where the same has been installed before.
    """
    try:
        kept = _read_stamp()
        if not _usable(kept):
            _create()
            kept = {}
        digest = hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest()
        extras = kept.get("extras") if kept.get("pyproject") == digest else None
        done = {str(name) for name in extras} if isinstance(extras, list) else set()
        if extra in done:
            step(f"The environment in {shown(ENVIRONMENT)} is up to date.")
        else:
            _install(extra, {"pyproject": digest, "extras": sorted(done | {"", extra})})
    except OSError as error:
        raise SetupError(f"{error.filename or ENVIRONMENT}: {error.strerror or error}") from error
    return PYTHON


def _read_stamp() -> dict[str, object]:
    """The stamp of the last installation; empty where there is none or it cannot be read."""
    try:
        stamp = json.loads(STAMP.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def _write_stamp(content: dict[str, object], *, complete: bool) -> None:
    stamp = {"complete": complete, "checkout": str(ROOT), "python": list(sys.version_info[:2])} | content
    STAMP.write_text(json.dumps(stamp, indent=1) + "\n", encoding="utf-8")


def _usable(stamp: dict[str, object]) -> bool:
    """Tell whether the environment can be kept; says why not where there is one."""
    if not ENVIRONMENT.exists() or (ENVIRONMENT.is_dir() and not any(ENVIRONMENT.iterdir())):
        return False
    if not stamp and not (ENVIRONMENT / "pyvenv.cfg").is_file():
        raise SetupError(f"{ENVIRONMENT} is not a virtual environment. Move it away, then start this again.")
    if stamp.get("complete") is False:
        reason = "was left half made"
    elif stamp and stamp.get("checkout") != str(ROOT):
        reason = "belongs to another folder"
    elif not _answers(sys.version_info[:2]):
        reason = f"does not work with Python {sys.version_info[0]}.{sys.version_info[1]}"
    else:
        return True
    step(f"The environment in {shown(ENVIRONMENT)} {reason}: making it anew.")
    return False


def _answers(version: tuple[int, int]) -> bool:
    """Tell whether the environment's Python starts, has pip, and is of this version."""
    question = "import pip, sys; print(*sys.version_info[:2])"
    try:
        answer = subprocess.run([PYTHON, "-c", question], capture_output=True, text=True, check=False, env=_clean())
    except OSError:
        return False
    return answer.returncode == 0 and answer.stdout.split() == [str(number) for number in version]


def _create() -> None:
    """Make an empty environment in place of what is there."""
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        version = f"{sys.version_info[0]}.{sys.version_info[1]}"
        raise SetupError(
            f"This Python {version} cannot make virtual environments: a part of its standard library is missing. "
            f"On Debian and Ubuntu: sudo apt install python{version}-venv"
        )
    if Path(sys.prefix).resolve() == ENVIRONMENT.resolve():
        raise SetupError(f"Python is running from {ENVIRONMENT} itself. Leave it (deactivate), then start this again.")
    step(f"Making a virtual environment in {shown(ENVIRONMENT)} ...")
    command = [sys.executable, "-m", "venv", "--clear", str(ENVIRONMENT)]
    made = subprocess.run(command, capture_output=True, text=True, check=False, env=_clean())
    if made.returncode != 0:
        raise SetupError(f"No virtual environment could be made: {_last_line(made.stdout + made.stderr)}")


def _install(extra: str, content: dict[str, object]) -> None:
    """Install the checkout in place, so that what is run is what stands in the folder.

    What is imported is compiled then; to compile all that the libraries hold would take a third of the time.
    """
    target = f"{ROOT}[{extra}]" if extra else str(ROOT)
    step(f"Installing the planner and its libraries (a minute or two; log in {shown(LOG)}) ...")
    _write_stamp(content, complete=False)
    command = [str(PYTHON), "-m", "pip", "install", "--no-input", "--disable-pip-version-check", "--no-compile"]
    command += ["--editable", target]
    with LOG.open("w", encoding="utf-8") as log:
        code = subprocess.run(command, stdout=log, stderr=subprocess.STDOUT, check=False, env=_clean()).returncode
    if code != 0:
        said = LOG.read_text(encoding="utf-8", errors="replace")
        why = "The package index could not be reached; check the network or the proxy. " if _offline(said) else ""
        raise SetupError(f"The installation failed. {why}pip says: {_last_line(said)} (the whole log: {shown(LOG)})")
    _write_stamp(content, complete=True)


def _clean() -> dict[str, str]:
    """The environment variables without those that would point the new Python elsewhere."""
    kept = {name: value for name, value in os.environ.items() if name not in ("PYTHONHOME", "PYTHONPATH")}
    return kept | {"PIP_USER": "0", "PYTHONUTF8": "1"}


def keeping_compiled() -> dict[str, str]:
    """The environment variables, with what is compiled kept in `.venv`, and nothing beside the sources.

    A command then starts in half the time, also where Python is told to keep nothing.
    """
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": str(ENVIRONMENT / "compiled")}


def _offline(said: str) -> bool:
    return any(sign in said for sign in OFFLINE_SIGNS)


def _last_line(said: str) -> str:
    """The last line in which pip reports an error, else the last line."""
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    errors = [line for line in lines if line.startswith("ERROR:")]
    return (errors or lines or ["nothing was said"])[-1]


def run(arguments: Sequence[str]) -> int:
    """Run the environment's Python in the checkout, its output on the screen; returns the exit code."""
    sys.stdout.flush()
    return subprocess.run([PYTHON, *arguments], cwd=ROOT, check=False, env=keeping_compiled()).returncode
