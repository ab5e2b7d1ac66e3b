"""Work on a file that nobody trusts, in a process of its own that may take only so much memory and time.

The one place that knows whether there are such processes: in a browser there are none, and the work is done here, where
the browser's own limits hold. Run as a script, this file is that process.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any, Final

WITHOUT_PROCESSES: Final = ("emscripten", "wasi")
"""Names that Python gives to systems on which no process can be started."""

MOST_MB: Final = 96
"""What the work may take on top of an interpreter with its library loaded."""
MOST_CPU_S: Final = 1
MOST_S: Final = 20.0
"""By the clock, start and all, on a machine that has other work."""


class TooMuchError(Exception):
    """The work took more than it may, and was ended."""


def apart(module: ModuleType, *arguments: str) -> Any:
    """What `module.answer` says of its arguments: something that JSON holds.

    The module imports nothing of this program, and its `load` loads the libraries that it needs before the limits are
    set. What the work prints or logs is shown to nobody. Raises `TooMuchError`.
    """
    if sys.platform in WITHOUT_PROCESSES:
        try:
            module.load()
            return module.answer(*arguments)
        except (MemoryError, RecursionError):
            raise TooMuchError from None
    command = [sys.executable, "-P", str(Path(__file__).resolve()), str(Path(str(module.__file__)).resolve())]
    try:
        ran = subprocess.run(  # noqa: S603 - this interpreter, and files of this program
            [*command, *arguments], stdin=subprocess.DEVNULL, capture_output=True, timeout=MOST_S, check=False
        )
        return json.loads(ran.stdout)
    except (subprocess.TimeoutExpired, ValueError):  # without an answer: the system ended it
        raise TooMuchError from None


def set_limits() -> None:
    """Limits of this process from now on, where the system has them."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource  # not on Windows, where the clock alone limits it

        used = resource.getrusage(resource.RUSAGE_SELF)
        cpu_s = int(used.ru_utime + used.ru_stime) + 1 + MOST_CPU_S
        resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 1))
        taken = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
        most = taken + MOST_MB * 2**20
        resource.setrlimit(resource.RLIMIT_AS, (most, most))


def _work(file: str, *arguments: str) -> None:
    spec = importlib.util.spec_from_file_location("work", file)
    if spec is None or spec.loader is None:
        raise ImportError(file)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.load()
    set_limits()
    sys.stdout.write(json.dumps(module.answer(*arguments)))
    sys.stdout.flush()


if __name__ == "__main__":
    _work(*sys.argv[1:])
