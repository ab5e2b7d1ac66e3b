"""What was typed into a PDF, read in a process of its own: this file is that process, and `read_fields` starts it.

A PDF is a program in disguise: a few hundred bytes can ask for a gigabyte, or for minutes. So the process that reads it
may take no more memory and time than a filled-in form needs (limits of the system where it has them, else the clock),
nothing it writes to the screen is shown, and only texts come back: the fields whose names begin as those of a form of
this program do, and one attachment.

Run as a script it imports nothing of the program: its arguments are the PDF and the name of the attachment, its answer
is one line of JSON.
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
from pathlib import Path
from typing import Any, Final, NamedTuple

MOST_BYTES: Final = 20_000_000
"""Of the file. A form of all pages with 60 cylinders takes about one megabyte."""
MOST_ATTACHED: Final = 1_000_000
"""Bytes of the attachment, unpacked."""
MOST_MB: Final = 96
"""What reading may take on top of an interpreter with its library loaded."""
MOST_CPU_S: Final = 2
MOST_S: Final = 20.0
"""By the clock, start and all, on a machine that has other work."""
MOST_FIELDS: Final = 20_000
MOST_LETTERS: Final = 300
"""Of one value; the identity of a print is the longest that a form holds."""
DEEPEST: Final = 12

BEGINNINGS: Final = ("log.", "return.shut", "return.bleed", "plan.")
"""Names of fields that are looked at; all others are passed over."""


class PdfFields(NamedTuple):
    """What stands in a form, ticks as `Yes`; empty fields are left out.

    `pages` holds, for each page with boxes, the fields of it whose name begins with `plan.`. `twice` names a field that
    has two values. `attached` is the text of the attachment, None where there is none, or one too large.
    """

    values: dict[str, str]
    pages: list[dict[str, str]]
    twice: list[str]
    attached: str | None


class PdfError(Exception):
    """A PDF that gives no fields; the text is one of `too_large`, `too_much`, `locked`, `not_a_pdf`, `not_readable`."""


def read_fields(file: str, attachment: str) -> PdfFields:
    """The fields of a PDF and the text attached under a name. Raises `PdfError`, and no other error for any content."""
    try:
        if Path(file).stat().st_size > MOST_BYTES:
            raise PdfError("too_large")
        with Path(file).open("rb") as stream:
            stream.read(1)
    except (OSError, ValueError) as error:
        raise PdfError("not_readable") from error
    command = [sys.executable, "-P", str(Path(__file__).resolve()), str(Path(file).resolve()), attachment]
    try:
        ran = subprocess.run(  # noqa: S603 - this interpreter and this file
            command, stdin=subprocess.DEVNULL, capture_output=True, timeout=MOST_S, check=False
        )
    except subprocess.TimeoutExpired:
        raise PdfError("too_much") from None
    try:
        answer = json.loads(ran.stdout)
        if isinstance(answer, str):
            raise PdfError(answer)
        return PdfFields(**answer)
    except (ValueError, TypeError):  # it ended before it answered: the system stopped it
        raise PdfError("too_much") from None


def _answer(file: str, attachment: str) -> dict[str, Any] | str:
    sys.modules["PIL"] = None  # type: ignore[assignment]  # pictures are not looked at
    from pypdf import PdfReader
    from pypdf.errors import DependencyError, FileNotDecryptedError

    _set_limits()
    try:
        reader = PdfReader(file)
        root: Any = reader.trailer["/Root"]
        return _fields(reader) | {"attached": _attached(root, attachment)}
    except (MemoryError, RecursionError, _TooMuchError):
        return "too_much"
    except (DependencyError, FileNotDecryptedError, NotImplementedError):
        return "locked"  # with a password, or in a way that the library does not know
    except Exception:  # noqa: BLE001 - whatever a file makes the library do, it is no form
        return "not_a_pdf"


class _TooMuchError(Exception):
    """More than a form holds."""


def _set_limits() -> None:
    """Limits on memory and processor time, on top of what the interpreter and the library took to load."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource  # not on Windows, where the clock alone limits it

        used = resource.getrusage(resource.RUSAGE_SELF)
        cpu_s = int(used.ru_utime + used.ru_stime) + 1 + MOST_CPU_S
        resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 1))
        taken = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
        most = taken + MOST_MB * 2**20
        resource.setrlimit(resource.RLIMIT_AS, (most, most))


def _fields(reader: Any) -> dict[str, Any]:
    values: dict[str, str] = {}
    twice: list[str] = []
    pages: list[dict[str, str]] = []
    seen = 0
    for page in reader.pages:
        own: dict[str, str] = {}
        boxes = 0
        for reference in _plain(page.get("/Annots")) or ():
            widget = _plain(reference)
            if not hasattr(widget, "get") or widget.get("/Subtype") != "/Widget":
                continue
            seen += 1
            boxes += 1
            if seen > MOST_FIELDS:
                raise _TooMuchError
            name, text = _field(widget)
            if not text or not name.startswith(BEGINNINGS):
                continue
            if len(text) > MOST_LETTERS or len(name) > MOST_LETTERS:
                raise _TooMuchError
            if name.startswith("plan."):
                own[name] = text
            elif values.setdefault(name, text) != text:
                twice.append(name)
        if boxes:
            pages.append(own)
    return {"values": values, "pages": pages, "twice": twice[:1]}


def _field(widget: Any) -> tuple[str, str]:
    """The whole name of a box, and what stands in it: its own value, else that of the field it belongs to."""
    parts: list[str] = []
    text = ""
    node = widget
    for _ in range(DEEPEST):
        part = node.get("/T")
        if part is not None:
            parts.insert(0, str(_plain(part)))
        value = _plain(node.get("/V"))
        if isinstance(value, str) and not text:
            text = value.strip().removeprefix("/")
            text = "" if text == "Off" else text
        node = _plain(node.get("/Parent"))
        if not hasattr(node, "get"):
            return ".".join(parts), text
    raise _TooMuchError


def _plain(value: Any) -> Any:
    """What a reference stands for."""
    return value.get_object() if hasattr(value, "get_object") else value


def _attached(root: Any, wanted: str) -> str | None:
    """The text of the attachment of a name, None where there is none or one too large."""
    names = _plain(_plain(root.get("/Names")) or {})
    nodes = [_plain(names.get("/EmbeddedFiles"))] if hasattr(names, "get") else []
    for _ in range(100):
        if not nodes:
            return None
        node = nodes.pop()
        if not hasattr(node, "get"):
            continue
        nodes += [_plain(kid) for kid in _plain(node.get("/Kids")) or ()]
        pairs = _plain(node.get("/Names")) or ()
        for name, spec in zip(pairs[::2], pairs[1::2], strict=False):
            if str(_plain(name)) == wanted:
                return _text(_plain(_plain(_plain(spec)["/EF"])["/F"]))
    return None


def _text(stream: Any) -> str | None:
    from pypdf.errors import PyPdfError

    try:
        data = stream.get_data()
    except PyPdfError:
        return None
    return data.decode("utf-8") if len(data) <= MOST_ATTACHED else None


if __name__ == "__main__":
    sys.stdout.write(json.dumps(_answer(*sys.argv[1:])))
    sys.stdout.flush()
