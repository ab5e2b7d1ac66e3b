"""Files that appear whole or not at all.

A file is written beside its place under a temporary name, flushed to the disk, and then moved into place in
one step, so that a power cut, a full disk or Ctrl-C never leaves half a page that looks like a whole one.
Imports nothing of the program.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path


class OutputError(Exception):
    """The output folder or a file in it cannot be written; the text says which, why, and what to do."""


def make_folder(folder: Path) -> None:
    """Makes the folder with its parents, unless it exists. Raises `OutputError`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise OutputError(f"{folder}: is a file, not a folder. Fix: give another folder with --output.") from None
    except OSError as error:
        raise OutputError(_text(folder, error)) from None


def write_whole(path: Path, write: Callable[[Path], object], *, mode: int | None = None) -> None:
    """Calls `write` with a temporary path beside `path`, and moves what it wrote into place.

    `mode` are the permissions of the file, as for any new file unless given.

    Any failure of `write` removes the temporary file, leaves an older file at `path` as it was, and is
    raised on; what the operating system refuses becomes `OutputError`.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.stem[:40]}-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
    except OSError as error:
        raise OutputError(_text(path.parent, error)) from None
    temporary = Path(name)
    try:
        write(temporary)
        _flush(temporary)
        temporary.chmod(0o666 & ~_umask() if mode is None else mode)
        temporary.replace(path)
        _flush_folder(path.parent)
    except OSError as error:
        raise OutputError(_text(path, error)) from None
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Writes a text as UTF-8, line breaks as they are, whole or not at all. Raises `OutputError`."""
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes, *, mode: int | None = None) -> None:
    """Writes a file, whole or not at all, with these permissions or those of any new file. Raises `OutputError`."""
    write_whole(path, lambda temporary: temporary.write_bytes(data), mode=mode)


def free_path(folder: Path, stem: str, ending: str) -> Path:
    """A path in a folder that no file has: the stem, where it is taken with a number behind it from 2."""
    path, number = folder / f"{stem}{ending}", 1
    while path.exists():
        number += 1
        path = folder / f"{stem}-{number}{ending}"
    return path


def _flush(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _flush_folder(folder: Path) -> None:
    """The new name on the disk too; where the system has no such thing (Windows), nothing."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _umask() -> int:
    """The process's mask for new files: a temporary file is made private, the finished one is not."""
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _text(path: Path, error: OSError) -> str:
    reason = (error.strerror or type(error).__name__).lower()
    return f"{path}: cannot be written ({reason}). Fix: give a folder that can be written with --output."
