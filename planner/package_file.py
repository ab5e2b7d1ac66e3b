"""The files inside the package, wherever it is installed."""

from __future__ import annotations

from pkgutil import get_data


def package_bytes(path: str) -> bytes:
    """A file by its path below the package, with slashes: `data/devices.csv`. Raises OSError where it is missing."""
    data = get_data("planner", path)
    if data is None:
        raise FileNotFoundError(path)
    return data


def package_text(path: str) -> str:
    """The same as text, whose lines end as on every system."""
    return package_bytes(path).decode("utf-8").replace("\r\n", "\n")
