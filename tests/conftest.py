"""What pytest needs to know of this folder."""

from __future__ import annotations

collect_ignore = ["run.py"]  # starts pytest itself
