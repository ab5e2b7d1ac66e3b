"""What was typed into a PDF, and what is attached to it: the work that `planner.files.apart` does with limits.

A PDF is a program in disguise: a few hundred bytes can ask for a gigabyte, or for minutes. So only texts come back: the
fields whose names begin as those of a form of this program do, and one attachment. Imports nothing of the program.
"""

from __future__ import annotations

import logging
import sys
from typing import Any, Final

MOST_ATTACHED: Final = 1_000_000
"""Bytes of the attachment, unpacked."""
MOST_FIELDS: Final = 20_000
MOST_LETTERS: Final = 300
"""Of one value; the name of a trip is the longest that a form holds."""
DEEPEST: Final = 12

BEGINNINGS: Final = ("log.", "card.left_at", "return.shut", "return.bleed", "plan.", "request.")
"""Names of fields that are looked at; all others are passed over."""


class _TooMuchError(Exception):
    """More than a form holds."""


def load() -> None:
    """Load the library, without the one for pictures, and keep its log to itself."""
    absent = "PIL" not in sys.modules
    if absent:
        sys.modules["PIL"] = None  # type: ignore[assignment]
    import pypdf  # noqa: F401

    if absent:
        del sys.modules["PIL"]
    logging.getLogger("pypdf").setLevel(logging.CRITICAL + 1)  # it carries bytes of the file to the terminal


def answer(file: str, attachment: str) -> dict[str, Any] | str:
    """What stands in a PDF, or why it gives nothing: `too_much`, `locked` or `not_a_pdf`.

    `values`: what stands in each field, ticks as `Yes`, empty ones left out. `pages`: for each page with boxes, the
    fields of it whose name begins with `plan.`. `twice`: the name of a field that has two values. `attached`: the text
    of the attachment of this name, None where there is none, or one too large.
    """
    from pypdf import PdfReader
    from pypdf.errors import DependencyError, FileNotDecryptedError

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


def _fields(reader: Any) -> dict[str, Any]:
    values: dict[str, str] = {}
    twice: list[str] = []
    pages: list[dict[str, str]] = []
    seen = 0
    for page in reader.pages:
        own: dict[str, str] = {}
        boxes = 0
        for reference in _plain(page.get("/Annots")) or ():
            seen += 1
            if seen > MOST_FIELDS:
                raise _TooMuchError
            widget = _plain(reference)
            if not hasattr(widget, "get") or widget.get("/Subtype") != "/Widget":
                continue
            boxes += 1
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
