"""What each way of being quick is worth here: `python -m tests.bench gains`.

Each line is the CPU time of a whole Python that does one thing, less that of a Python that does nothing.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from statistics import median

from tests.bench.items import TRIP
from tests.bench.timing import call_ms, side_by_side

CLASSES = "\n".join(
    f"{{decorator}}\nclass C{number}{{base}}:\n    a: float\n    b: str\n    c: int = 0\n" for number in range(50)
)
HEADS = {
    "frozen slotted dataclasses, fifty": (
        "from dataclasses import dataclass",
        "@dataclass(frozen=True, slots=True)",
        "",
    ),
    "named tuples, fifty": ("from typing import NamedTuple", "", "(NamedTuple)"),
}
LOADS = {
    "reportlab's canvas": "import reportlab.pdfgen.canvas",
    "and its platypus": "import reportlab.pdfgen.canvas, reportlab.platypus",
    "jsonschema": "import jsonschema",
    "numpy": "import numpy",
    "the table of units": "import planner.text.unit_table",
}


def main(runs: int = 9) -> None:
    """Prints a line each."""
    with tempfile.TemporaryDirectory() as name:
        commands = {"nothing": ["-c", "pass"]}
        commands |= {what: ["-c", code] for what, code in LOADS.items()}
        for what, (head, decorator, base) in HEADS.items():
            file = Path(name) / f"{len(commands)}.py"
            file.write_text(f"{head}\n{CLASSES.format(decorator=decorator, base=base)}", encoding="utf-8")
            commands[what] = [str(file)]
        registry = "import pint; r = pint.UnitRegistry({}); r('1 psi').to('kPa')"
        commands["pint's registry"] = ["-c", registry.format("cache_folder=None")]
        folder = str(Path(name) / "pint")
        commands["pint's registry from its cache"] = ["-c", registry.format(f"cache_folder={folder!r}")]
        times = side_by_side(commands, runs)
    nothing = median(times.pop("nothing"))
    print(f"What is spared or gained, CPU time beyond a Python that does nothing ({nothing:.1f} ms), {runs} runs:")
    for what, taken in times.items():
        print(f"  {what:36} {median(taken) - nothing:7.1f} ms")
    _loaders()


def _loaders() -> None:
    import yaml

    text = TRIP.read_text(encoding="utf-8")
    for name in ("CSafeLoader", "SafeLoader"):
        loader = getattr(yaml, name, None)
        if loader is not None:
            taken = call_ms(lambda loader=loader: list(yaml.parse(text, loader)))  # type: ignore[misc]
            print(f"  {'yaml.' + name + ', one profile, warm':36} {taken:7.1f} ms")
