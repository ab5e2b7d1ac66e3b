"""Files of history, format 1, read as a stream: one JSON object a line.

A closed trip is a line of kind `trip`, then one of kind `flow` for each stretch on one supply and one of kind `time`
for
each leg and wait. Each carries the trip's ID. A trip that is closed again begins anew with its `trip` line, and what
stood
under its ID before counts no more; a line of kind `void` takes a trip out. One ID counts once over all files. Unknown
keys
are left alone, a line that cannot be used is told with its number and skipped, and a last line without its end, as a
process that was stopped leaves it, is no fault. Where the line before the lines of a closed trip is broken, it may have
been a closing that replaced the earlier one: that trip counts as not closed.

Only what is summed later is kept, in plain arrays of floats: a million lines are read in little memory.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator
from json import JSONDecodeError, JSONDecoder
from json.scanner import make_scanner
from math import inf, isnan, nan
from sys import intern
from typing import Any, Final, NamedTuple

FORMAT: Final = 1

OTHER: Final = "other"
"""What stands for free text that the service does not list."""

MIXED: Final = "mixed"
"""The type of a stretch on which more than one device drew, or settings changed."""

NO_CLOSING, CLOSED, VOID = range(3)

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


class GroupSums(NamedTuple):
    """Sums of one group over some lines of one trip.

    `trip`, `closing`: which closing of which trip, as numbers of `History`. `planned`, `used`, `doubt`: litres; of
    times minutes, without doubt. `minutes`: time of the stretches.
    """

    trip: float
    closing: float
    planned: float
    used: float
    doubt: float
    minutes: float


class Sums:
    """Rows of one group, as one array of floats: a million of them need 48 MB."""

    __slots__ = ("_floats",)

    def __init__(self) -> None:
        self._floats = array("d")

    def add(self, row: list[float]) -> None:
        """One more row: the fields of `Row` in their order."""
        self._floats.extend(row)

    def __len__(self) -> int:
        return len(self._floats) // len(GroupSums._fields)

    def join(self, other: Sums) -> None:
        """The rows of another group too."""
        self._floats.extend(other._floats)

    def rows(self) -> Iterator[tuple[float, float, float, float, float, float]]:
        """Every row, as plain tuples in the order of `Row`."""
        floats = iter(self._floats)
        return zip(floats, floats, floats, floats, floats, floats, strict=True)


class History:
    """What was read of any number of files. Trips are numbered from 0 in the order in which their IDs were first seen.

    By trip: `state`, `NO_CLOSING`, `CLOSED` or `VOID`; `closing`, how often it was replaced (a row of `Sums` with
    another
    number counts no more); `closed`, the date as text; `setting`; `ran_out`; `covered`: used and doubt within what was
    required on every supply; `excess`: the largest (used + doubt) / planned of its supplies, `inf` where it ran out,
    NaN where nothing was planned.
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
        self.flows: dict[FlowGroup, Sums] = {}
        self.times: dict[TimeGroup, Sums] = {}
        self.broken: list[Broken] = []

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
            history.broken.append(Broken(name, number, f"{why}: {_shown(line)}"))
        reader.flush()
    return history


def _shown(line: str) -> str:
    text = "".join(letter if letter.isprintable() else "?" for letter in line.strip())
    return text if len(text) <= _LONGEST_TOLD else text[:_LONGEST_TOLD] + " ..."


class _Reader:
    """Sums the lines of one trip until another's come. Lines of a trip stand together, but need not."""

    def __init__(self, history: History) -> None:
        self.history = history
        self.id: str | None = None
        self.trip = -1
        self.closing_seen = False
        self.after_broken = False
        self.flows: dict[Any, list[float]] = {}
        self.times: dict[Any, list[float]] = {}
        self.flow_sums: dict[Any, tuple[Sums, ...]] = {}

    def unread(self, lines: Iterable[str]) -> Iterator[tuple[int, str, str]]:
        """Read all lines; those that cannot be used come back with their number, text and reason."""
        takers = {"flow": self._flow, "time": self._time, "trip": self._trip, "void": self._void}
        for number, line in enumerate(lines, 1):
            try:
                row, end = _READ_OBJECT(line, 0)
                if row["trip"] != self.id or end + 1 < len(line) or row["history"] != FORMAT:
                    self._begin(row, line[end:])
                takers[row["kind"]](row)
                continue
            except StopIteration:
                why = "no JSON object begins here" if line.strip() else ""
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
                self.flush()
                self.after_broken = True
                yield number, line, why

    def _begin(self, row: dict[str, Any], rest: str) -> None:
        """The line is not plainly one more of the same trip: hold it against the format, and change trips."""
        id_ = row["trip"]
        if row["history"] != FORMAT:
            raise ValueError("not of format 1 of the history")
        if rest.strip():
            raise ValueError("more than one JSON object on a line")
        if not isinstance(id_, str):
            raise TypeError
        if id_ == self.id:
            return
        broken = self.after_broken
        self.flush()
        self.after_broken = broken
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
        self.id, self.trip = id_, trip

    def flush(self) -> None:
        """Put the sums of the lines so far into the history's arrays."""
        if self.id is None:
            return
        history, trip = self.history, self.trip
        if self.after_broken and not self.closing_seen and history.state[trip] == CLOSED:
            history.state[trip] = NO_CLOSING
        place = [float(trip), float(history.closing[trip])]
        for key, sums in self.flows.items():
            for group in self._groups(history.setting[trip], key):
                group.add(place + sums)
        for key, sums in self.times.items():
            of_time = history.times.get(key)
            if of_time is None:
                of_time = history.times[TimeGroup(*key)] = Sums()
            of_time.add(place + sums)
        self.flows, self.times = {}, {}
        self.id, self.closing_seen, self.after_broken = None, False, False

    def _groups(self, setting: str, key: tuple[str | None, ...]) -> tuple[Sums, ...]:
        """The groups that stretches belong to: all of their type, and those of their settings and device if listed."""
        found = self.flow_sums.get((setting, key))
        if found is None:
            *words, settings, device = key
            kind = ", ".join(word for word in words if word)
            groups = [FlowGroup(kind, setting)]
            if not settings == device == OTHER:
                groups.append(FlowGroup(kind, setting, settings, device))
            flows = self.history.flows
            found = self.flow_sums[setting, key] = tuple(flows.setdefault(group, Sums()) for group in groups)
        return found

    def _flow(self, row: dict[str, Any]) -> None:
        planned, used, doubt, minutes = row["planned_l"], row["used_l"], row["doubt_l"], row["min"]
        if not (0.0 <= planned < inf and -inf < used < inf and 0.0 <= doubt < inf and 0.0 <= minutes < inf):
            raise ValueError("litres or minutes that are no numbers from 0 up")
        if row["type"] == MIXED:
            return
        key = (row["type"], row.get("drive"), row.get("rule"), row["settings"], row["device"])
        sums = self.flows.get(key)
        if sums is None:
            if not all(isinstance(word, str) or word is None for word in key):
                raise ValueError("a word that is not a text")
            self.flows[key] = [planned, used, doubt, minutes]
        else:
            sums[0] += planned
            sums[1] += used
            sums[2] += doubt
            sums[3] += minutes

    def _time(self, row: dict[str, Any]) -> None:
        planned, minutes = row["planned_min"], row["min"]
        if not (0.0 <= planned < inf and 0.0 <= minutes < inf):
            raise ValueError("minutes that are no numbers from 0 up")
        key = (row.get("leg"), row.get("wait"), row.get("by"))
        sums = self.times.get(key)
        if sums is None:
            if not all(isinstance(word, str) or word is None for word in key) or (key[0] is None) == (key[1] is None):
                raise ValueError("neither a leg nor a wait, or both")
            self.times[key] = [planned, minutes, 0.0, minutes]
        else:
            sums[0] += planned
            sums[1] += minutes
            sums[3] += minutes

    def _trip(self, row: dict[str, Any]) -> None:
        setting, closed, ran_out = row["setting"], row["closed"], row["ran_out"]
        if not (isinstance(setting, str) and isinstance(closed, str) and isinstance(ran_out, bool)):
            raise TypeError
        covered, excess = not ran_out, nan
        for supply in row["supplies"].values():
            planned, required, most = supply["planned_l"], supply["required_l"], supply["used_l"] + supply["doubt_l"]
            if not (0.0 <= planned < inf and 0.0 <= required < inf and -inf < most < inf):
                raise ValueError("litres that are no numbers from 0 up")
            covered = covered and most <= required
            if planned:
                excess = most / planned if isnan(excess) else max(excess, most / planned)
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
        if self.closing_seen:
            self.flows, self.times = {}, {}
        if history.state[trip] != NO_CLOSING or self.closing_seen:
            history.closing[trip] += 1
        history.state[trip] = state
        self.closing_seen = True
