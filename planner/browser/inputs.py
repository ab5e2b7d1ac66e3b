"""What the page is made of beside this program: the runtime, the solver and the libraries, each held to its sha256.

They come from the package registries through their ordinary clients, npm and pip, or out of a folder where they lie
already. Every file is taken whole; nothing that the lock file does not name gets in.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final, NamedTuple

LOCK: Final = Path(__file__).with_name("inputs.json")
_WHEELS_FOR: Final = ("--platform", "manylinux2014_x86_64", "--python-version", "3.13", "--implementation", "cp")
"""One kind of wheel whatever the machine: only their Python files are used."""


class Input(NamedTuple):
    """One file of a registry; `source` is `npm` or `wheel`."""

    name: str
    version: str
    source: str
    file: str
    sha256: str
    licence: str
    what: str


class InputsError(Exception):
    """An input is missing or another than the lock file says; the text says which and what to do."""


def locked() -> tuple[Input, ...]:
    """The inputs by the lock file, in its order."""
    return tuple(Input(**row) for row in json.loads(LOCK.read_text(encoding="utf-8"))["inputs"])


def gathered(folder: Path) -> dict[str, bytes]:
    """The bytes of every input by name; what the folder lacks is fetched into it. Raises `InputsError`."""
    folder.mkdir(parents=True, exist_ok=True)
    for source in ("npm", "wheel"):
        lacking = [one for one in locked() if one.source == source and not (folder / one.file).exists()]
        if lacking:
            _fetch(lacking, folder)
    return {one.name: _held(one, folder) for one in locked()}


def _held(one: Input, folder: Path) -> bytes:
    path = folder / one.file
    if not path.exists():
        raise InputsError(f"{one.name} {one.version}: its client gave no file {one.file}. Fix: put it into {folder}.")
    data = path.read_bytes()
    found = hashlib.sha256(data).hexdigest()
    if found != one.sha256:
        raise InputsError(
            f"{path}: sha256 {found}, the lock file says {one.sha256}. Fix: delete the file and build again; if it "
            "comes back the same, do not use it."
        )
    return data


def _fetch(inputs: Sequence[Input], folder: Path) -> None:
    """Fetches inputs of one source by one call of its client: starting it takes longer than what it fetches."""
    files = ", ".join(one.file for one in inputs)
    if inputs[0].source == "npm":
        client = shutil.which("npm")
        if client is None:
            names = ", ".join(one.name for one in inputs)
            raise InputsError(f"{names}: npm is not installed. Fix: install it, or put {files} into {folder}.")
        command = [client, "pack", "--silent", "--ignore-scripts", "--pack-destination", str(folder)]
        command += [f"{one.name}@{one.version}" for one in inputs]
    else:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps"]
        command += ["--only-binary", ":all:", *_WHEELS_FOR, "--dest", str(folder)]
        command += [f"{one.name}=={one.version}" for one in inputs]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=folder)  # noqa: S603 - names come from the lock file
    if done.returncode != 0:
        last = (done.stderr.strip() or done.stdout.strip()).splitlines()[-1:] or ["no reason given"]
        raise InputsError(
            f"not all of {files} could be fetched ({last[0][:200]}). Fix: try again, or put them into a folder and "
            "name it with --inputs."
        )
