"""What reportlab asks of pictures when it starts: a class to hold others against. None can be opened here."""

from __future__ import annotations

from typing import Any


class Image:
    """No picture is ever one of these."""


def open(*_args: Any, **_named: Any) -> Any:  # noqa: A001 - the library's own name
    """Refuses. Raises OSError."""
    raise OSError("pictures cannot be opened on this page")
