"""The files inside the package, wherever it is installed."""

from __future__ import annotations

from functools import cache
from pkgutil import get_data

from planner import __version__


def package_bytes(path: str) -> bytes:
    """A file by its path below the package, with slashes: `data/devices.csv`. Raises OSError where it is missing."""
    data = get_data("planner", path)
    if data is None:
        raise FileNotFoundError(path)
    return data


def package_text(path: str) -> str:
    """The same as text, whose lines end as on every system."""
    return package_bytes(path).decode("utf-8").replace("\r\n", "\n")


@cache
def edition() -> str:
    """The program and its version; in a page for browsers also the page's date and fingerprint."""
    try:
        made = f" of {package_text('build.txt').strip()}"
    except OSError:  # a checkout or an installed package: its version says it all
        made = ""
    return f"transport-oxygen {__version__}{made}"
