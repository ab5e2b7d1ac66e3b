"""How fast the program is, as ratios to a floor measured in the same run: `python -m tests.bench`.

Without arguments every part runs, which takes some minutes; nothing else should run meanwhile. With names, these parts
alone: `python -m tests.bench cold growth`.
"""

from __future__ import annotations

import argparse
import platform
from collections.abc import Callable

from tests.bench import cold, compare, gains, many, planning, review, store


def main() -> None:
    """Runs the parts that are asked for."""
    parts: dict[str, Callable[[], None]] = {
        "cold": cold.main,
        "many": lambda: many.main(asked.trips),
        "planning": planning.planning,
        "growth": planning.growth,
        "store": store.main,
        "compare": compare.main,
        "review": review.main,
        "gains": gains.main,
    }
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"one of {', '.join(parts)}; all without any")
    parser.add_argument("--trips", type=int, default=1000, help="trips in the part `many` (default 1000)")
    asked = parser.parse_args()
    unknown = [part for part in asked.parts if part not in parts]
    if unknown:
        parser.error(f"no part {', '.join(unknown)}; there are {', '.join(parts)}")
    print(f"Python {platform.python_version()}, {platform.machine()}")
    for part in asked.parts or parts:
        parts[part]()


if __name__ == "__main__":
    main()
