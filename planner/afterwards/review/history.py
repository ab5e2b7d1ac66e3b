"""Files of history, format 1, read as a stream: one JSON object a line.

A closed trip is a line of kind `trip`, then one of kind `flow` for each stretch on one supply and one of kind `time`
for each leg and wait. Each carries the trip's ID. A trip that is closed again begins anew with its `trip` line, and
what stood under its ID before counts no more; a line of kind `void` takes a trip out. One ID counts once over all
files. Unknown keys are left alone, a line that cannot be used is told with its number and skipped, and a last line
without its end, as a process that was stopped leaves it, is no fault. Where the line before other lines of a closed
trip is broken, it may have been a closing that replaced the earlier one: that trip counts as not closed.

Only what is summed later is kept, in plain arrays of floats: a million lines are read in little memory.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator
from datetime import date
from functools import lru_cache
from json import JSONDecodeError, JSONDecoder
from json.scanner import make_scanner
from math import inf, isnan, nan
from sys import intern
from typing import Any, Final, NamedTuple, TextIO

FORMAT: Final = 1

OTHER: Final = "other"
"""What stands for free text that the service does not list."""

MIXED: Final = "mixed"
"""The type of a stretch on which more than one device drew, or settings changed."""

NO_CLOSING, CLOSED, VOID = range(3)

MOST: Final = 1e9
"""Litres and minutes beyond which a number is none of a trip."""

MOST_TOLD: Final = 1000
"""So many lines that cannot be used are kept with their reasons; more are counted."""

LONGEST_LINE: Final = 1_000_000
"""Letters of one line; that of a trip with as many supplies as a profile may have takes a third of it."""

_READ_OBJECT: Final = make_scanner(JSONDecoder())  # type: ignore[arg-type] # as the library itself calls it
_LONGEST_TOLD: Final = 100


class FlowGroup(NamedTuple):
    """Stretches that are compared with one another: of one type of device in one setting of trips.

    `kind` is the type with what else makes it draw otherwise, such as `ventilator, pneumatic`. `settings` and `device`
    are None in the group of all of them.
    """

    kind: str
    setting: str
    settings: str | None = None
    device: str | None = None

    @property
    def pooled(self) -> bool:
        """True of the group of all settings and devices."""
        return self.settings is None and self.device is None


class TimeGroup(NamedTuple):
    """Legs of one name and way of moving, or waits of one reason; the other field is None."""

    leg: str | None
    wait: str | None
    by: str | None


class Broken(NamedTuple):
    """A line that cannot be used: its file, its number from 1, and why."""

    file: str
    line: int
    why: str


FIELDS: Final = 6
"""Floats of one row of a group: number of the trip, number of its closing, planned, used, doubt, minutes. Litres; of
times planned and real minutes, without doubt."""

FlowKey = tuple[str, str | None, str | None, str, str]
"""Type, drive, rule, settings, device."""


class History:
    """What was read of any number of files. Trips are numbered from 0 in the order in which their IDs were first seen.

    By trip: `state`, `NO_CLOSING`, `CLOSED` or `VOID`; `closing`, how many lines have closed it or taken it out (a row
    with another number counts no more); `closed`, the date as text; `setting`; `ran_out`; `covered`: used and doubt
    within what was required on every supply; `excess`: the largest (used + doubt) / planned of its supplies, `inf`
    where it ran out or went beyond a supply of which nothing was planned, NaN where nothing was planned at all.

    `flows` and `times` hold rows of `FIELDS` floats by what they are of.
    """

    def __init__(self) -> None:
        self.number: dict[str, int] = {}
        self.state = bytearray()
        self.closing = array("l")
        self.closed: list[str] = []
        self.setting: list[str] = []
        self.ran_out = bytearray()
        self.covered = bytearray()
        self.excess = array("d")
        self.flows: dict[FlowKey, array[float]] = {}
        self.times: dict[TimeGroup, array[float]] = {}
        self.broken: list[Broken] = []
        self.broken_lines = 0

    def counted(self) -> list[int]:
        """Numbers of the trips that count, in the order in which they were closed: by date, then as read."""
        trips = (trip for trip, state in enumerate(self.state) if state == CLOSED)
        return sorted(trips, key=self.closed.__getitem__)

    def unclosed(self) -> int:
        """How many IDs have lines but no `trip` line: their closing was cut short or its line is broken."""
        return self.state.count(NO_CLOSING)


def read(files: Iterable[tuple[str, Iterable[str]]]) -> History:
    """The history of some files, each a name and its lines. No content of a line raises; see `History.broken`."""
    history = History()
    reader = _Reader(history)
    for name, lines in files:
        for number, line, why in reader.unread(lines):
            history.broken_lines += 1
            if len(history.broken) < MOST_TOLD:
                history.broken.append(Broken(name, number, f"{why}: {_shown(line)}"))
        reader.forget()
    return history


def lines_of(file: TextIO) -> Iterator[str]:
    """The lines of a file, of one too long its beginning alone: what it goes on with is never held as a whole."""
    while line := file.readline(LONGEST_LINE + 1):
        yield line
        while len(line) > LONGEST_LINE and not line.endswith("\n"):
            line = file.readline(LONGEST_LINE + 1)


def _shown(line: str) -> str:
    text = "".join(letter if letter.isprintable() else "?" for letter in line[: 2 * _LONGEST_TOLD].strip())
    return text if len(text) <= _LONGEST_TOLD else text[:_LONGEST_TOLD] + " ..."


@lru_cache(maxsize=4096)
def _is_day(text: str) -> bool:
    """True of a day as the history writes it, such as 2026-12-03."""
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


class _Reader:
    """Takes lines one by one. `id`, `trip`, `closing`: those of the line before, None and -1 where it is no help."""

    def __init__(self, history: History) -> None:
        self.history = history
        self.id: str | None = None
        self.trip = -1
        self.closing = 0
        self.after_broken = False

    def unread(self, lines: Iterable[str]) -> Iterator[tuple[int, str, str]]:
        """Read all lines; those that cannot be used come back with their number, text and reason."""
        takers = {"flow": self._flow, "time": self._time, "trip": self._trip, "void": self._void}
        for number, line in enumerate(lines, 1):
            try:
                row, end = _READ_OBJECT(line if len(line) <= LONGEST_LINE else "", 0)
                if row["trip"] != self.id or end + 1 < len(line) or row["history"] != FORMAT:
                    self._begin(row, line[end:])
                takers[row["kind"]](row)
                continue
            except StopIteration:
                why = "no JSON object begins here" if line.strip() else ""
                why = why if len(line) <= LONGEST_LINE else f"longer than {LONGEST_LINE} letters"
            except JSONDecodeError:
                # The last line of a file may have been cut short.
                why = "not JSON" if line.endswith("\n") else ""
            except KeyError as error:
                why = f"{error.args[0]!r} is missing or not known"
            except ValueError as error:
                why = str(error)
            except (TypeError, AttributeError):
                why = "a value of another kind"
            except RecursionError:
                why = "nested too deep"
            if why:
                self.forget()
                self.after_broken = True
                yield number, line, why

    def forget(self) -> None:
        """What comes next is held against the format anew."""
        self.id = None
        self.after_broken = False

    def _begin(self, row: dict[str, Any], rest: str) -> None:
        """The line is not plainly one more of the same trip: hold it against the format, and change trips."""
        id_ = row["trip"]
        if row["history"] != FORMAT:
            raise ValueError("not of format 1 of the history")
        if rest.strip():
            raise ValueError("more than one JSON object on a line")
        if not isinstance(id_, str):
            raise TypeError
        history = self.history
        trip = history.number.get(id_)
        if trip is None:
            trip = history.number[id_] = len(history.state)
            history.state.append(NO_CLOSING)
            history.closing.append(0)
            history.closed.append("")
            history.setting.append("")
            history.ran_out.append(0)
            history.covered.append(0)
            history.excess.append(nan)
        if self.after_broken and history.state[trip] == CLOSED:
            history.state[trip] = NO_CLOSING  # unless this line is the closing itself
        self.after_broken = False
        self.id, self.trip, self.closing = id_, trip, history.closing[trip]

    def _flow(self, row: dict[str, Any]) -> None:
        planned, used, doubt, minutes = row["planned_l"], row["used_l"], row["doubt_l"], row["min"]
        if not (0.0 <= planned <= MOST and -MOST <= used <= MOST and 0.0 <= doubt <= MOST and 0.0 <= minutes <= MOST):
            raise ValueError("litres or minutes that are no numbers from 0 up")
        kind = row["type"]
        if kind == MIXED:
            return
        key = (kind, row.get("drive"), row.get("rule"), row["settings"], row["device"])
        rows = self.history.flows.get(key)
        if rows is None:
            if not (_texts(key[1:3]) and all(isinstance(word, str) for word in (kind, *key[3:]))):
                raise ValueError("a word that is not a text")
            rows = self.history.flows[key] = array("d")
        rows.extend((self.trip, self.closing, planned, used, doubt, minutes))

    def _time(self, row: dict[str, Any]) -> None:
        planned, minutes = row["planned_min"], row["min"]
        if not (0.0 <= planned <= MOST and 0.0 <= minutes <= MOST):
            raise ValueError("minutes that are no numbers from 0 up")
        key = (row.get("leg"), row.get("wait"), row.get("by"))
        rows = self.history.times.get(key)  # type: ignore[call-overload] # equal to the tuple with names
        if rows is None:
            if not _texts(key) or (key[0] is None) == (key[1] is None):
                raise ValueError("neither a leg nor a wait, or both")
            rows = self.history.times[TimeGroup(*key)] = array("d")
        rows.extend((self.trip, self.closing, planned, minutes, 0.0, minutes))

    def _trip(self, row: dict[str, Any]) -> None:
        setting, closed, ran_out = row["setting"], row["closed"], row["ran_out"]
        if not (isinstance(setting, str) and isinstance(closed, str) and isinstance(ran_out, bool)):
            raise TypeError
        if not _is_day(closed):
            raise ValueError("no day such as 2026-12-03")
        covered, excess = not ran_out, nan
        for supply in row["supplies"].values():
            planned, required, used, doubt = (
                supply["planned_l"],
                supply["required_l"],
                supply["used_l"],
                supply["doubt_l"],
            )
            most = used + doubt
            if not (0.0 <= planned <= MOST and 0.0 <= required <= MOST and doubt >= 0.0 and -MOST <= most <= MOST):
                raise ValueError("litres that are no numbers from 0 up")
            within = most <= required
            covered = covered and within
            if planned or not within:
                ratio = most / planned if planned else inf
                excess = ratio if isnan(excess) else max(excess, ratio)
        history, trip = self.history, self.trip
        self._replace(CLOSED)
        history.closed[trip] = intern(closed)
        history.setting[trip] = intern(setting)
        history.ran_out[trip] = ran_out
        history.covered[trip] = covered
        history.excess[trip] = inf if ran_out else excess

    def _void(self, row: dict[str, Any]) -> None:  # noqa: ARG002 - the ID says all
        self._replace(VOID)

    def _replace(self, state: int) -> None:
        """A closing begins, or is taken back: what stood under this ID before counts no more."""
        history, trip = self.history, self.trip
        history.closing[trip] += 1
        history.state[trip] = state
        self.closing = history.closing[trip]


def _texts(words: Iterable[object]) -> bool:
    return all(isinstance(word, str) or word is None for word in words)
