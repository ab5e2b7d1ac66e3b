"""A text file on its way in: size, encoding, and letters that cannot be seen.

Nothing here knows YAML.
"""

from __future__ import annotations

import codecs
import os
import re
import stat
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Final

from planner.problems import Problem, ProblemsError

MOST_BYTES: Final = 1_000_000
LONGEST_SHOWN: Final = 60
"""Letters of a value or a name in a message."""
MOST_PROBLEMS: Final = 100
"""So many problems are told of one file; the rest is counted."""

BREAK: Final = re.compile(r"\r\n|\r|\n")
UNSEEN: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f"  # control characters but tab and line ends
    "\u2028\u2029"  # line ends to some programs only
    "\u061c\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff\ufff9-\ufffb\U000e0000-\U000e007f"
    "\ud800-\udfff\ufffe\uffff]"  # halves of a character, and what is none
)
"""What a profile must not hold, because it cannot be seen or changes how the text around it is shown."""

_DIRECTION: Final = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# A tab with something after it, unless a comment begins before it.
_TAB = re.compile(r"(?![^\t\"']*(?<![^ \t])#)[^\t]*(\t)(?=.*\S)")
_FOREIGN: Final = (
    (b"%PDF", "a PDF file"),
    (b"PK\x03\x04", "a zip archive, or a file of an office program"),
    (b"{\\rtf", "a file of a word processor"),
)


@dataclass(slots=True)
class ProblemList:
    """Gathers the problems of one text, and only counts them where nobody would read on.

    With `at_start`, every problem carries line 1, column 1, for a text that was typed on the command line.
    """

    file: str
    at_start: bool = False
    found: list[Problem] = field(default_factory=list)
    left_out: int = 0
    left_at: tuple[int, int] = (1, 1)

    def add(self, line: int, column: int, code: str, found: str, allowed: str, fix: str) -> None:
        """One problem at a line and a column, both from 1, or 0 where there is no text."""
        if self.at_start:
            line, column = 1, 1
        if len(self.found) >= MOST_PROBLEMS:
            self.left_at = self.left_at if self.left_out else (line, column)
            self.left_out += 1
            return
        self.found.append(Problem(self.file, line, column, code, found, allowed, fix))

    def error(self) -> ProblemsError:
        """Everything found, as an error to raise."""
        more = []
        if self.left_out:
            more = [too_many(self.file, *self.left_at, f"{self.left_out} problems more")]
        return ProblemsError([*self.found, *more])

    def check(self) -> None:
        """Raise the error if there is any problem."""
        if self.found:
            raise self.error()


def too_many(file: str, line: int, column: int, found: str) -> Problem:
    """What is told in place of the problems that are not."""
    return Problem(
        file, line, column, "too_many_problems", found, "a file without problems", "mend the others first and try again"
    )


def shown(text: str, most: int = 40) -> str:
    """A text fit for a message: one line, no control characters, not too long."""
    begun = text[: most + 1]
    clean = begun if begun.isprintable() else "".join(char if char.isprintable() else "?" for char in begun)
    return clean if len(clean) <= most else clean[: most - 3] + "..."


def one_line(text: str) -> str:
    """The same with room for a whole value or name: at most 60 letters."""
    return shown(text, LONGEST_SHOWN)


def show(text: str) -> str:
    """The same in backquotes."""
    return f"`{one_line(text)}`"


def read_text(file: str, problems: ProblemList) -> str:
    """The text of a file in UTF-8, without its byte order mark. Raises `ProblemsError`."""
    text = _decoded(_bytes(file, problems), problems)
    if text is None:
        raise problems.error()
    return text


def check_letters(text: str, problems: ProblemList) -> None:
    """Tell of a text that is too large, of letters that cannot be seen, and of tabs outside comments."""
    if len(text) > MOST_BYTES:
        _too_large(problems)
        return
    hidden = UNSEEN.finditer(text)
    line, begin = 1, 0
    fix = "delete it: it may stand between two letters that look like neighbours"
    for match in islice(hidden, MOST_PROBLEMS + 1):
        for line_end in BREAK.finditer(text, begin, match.start()):
            line, begin = line + 1, line_end.end()
        found = unseen(match.group())
        problems.add(line, match.start() - begin + 1, "unseen_character", found, "characters that can be seen", fix)
    problems.left_out += sum(1 for _ in hidden)
    fix = "put spaces in its place, and set the editor to indent with spaces"
    for number, line_text in enumerate(BREAK.split(text), 1):
        tab = _TAB.match(line_text) if "\t" in line_text else None
        if tab is not None:
            problems.add(number, tab.start(1) + 1, "tab", "a tab", "spaces", fix)


def unseen(char: str) -> str:
    """A phrase for a character that cannot be seen, with its number."""
    what = "a control character" if ord(char) < 0xA0 else "an invisible character"
    if char in _DIRECTION:
        what = "a mark that turns the reading direction"
    elif "\ud800" <= char <= "\udfff":
        what = "half of a character"
    return f"{what} (U+{ord(char):04X})"


def _bytes(file: str, problems: ProblemList) -> bytes:
    may = "a YAML file with a trip or a policy"
    try:
        mode = os.stat(file).st_mode  # noqa: PTH116  (a name with a zero byte must raise here too)
        if stat.S_ISDIR(mode):
            problems.add(0, 0, "is_a_folder", "a folder", may, "name a file in it")
        elif not stat.S_ISREG(mode):
            problems.add(0, 0, "not_a_file", "not an ordinary file", may, "save the text in a file and name that")
        else:
            with Path(file).open("rb") as stream:
                data = stream.read(MOST_BYTES + 1)
            if len(data) <= MOST_BYTES:
                return data
            _too_large(problems)
    except FileNotFoundError:
        problems.add(0, 0, "no_such_file", "no file of this name", may, "check the name and the folder")
    except PermissionError:
        problems.add(0, 0, "not_readable", "a file that may not be read", may, "get leave to read it, or a copy")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no file can have this name"
        problems.add(0, 0, "not_readable", f"a file that cannot be read ({reason})", may, "check the name and the disk")
    raise problems.error()


def _too_large(problems: ProblemList) -> None:
    fix = "check that this is the right file, and split it if it is"
    problems.add(1, 1, "too_large", "more than 1 MB", "at most 1000000 bytes", fix)


def _decoded(data: bytes, problems: ProblemList) -> str | None:
    may, fix = "text in UTF-8", "save the file as UTF-8 in the editor"
    for mark, what in _FOREIGN:
        if data.startswith(mark):
            problems.add(1, 1, "not_text", what, may, "save the profile as plain text, and name that file")
            return None
    other = _other_encoding(data)
    if other is not None:
        problems.add(1, 1, "not_utf8", f"text in {other}", may, fix)
        return None
    data = data.removeprefix(codecs.BOM_UTF8)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        starts = line_starts(before)
        line, column = len(starts), len(before) - starts[-1] + 1
        found = f"a byte that is not UTF-8 (hexadecimal {data[error.start]:02X})"
        problems.add(line, column, "not_utf8", found, may, fix)
        return None


def _other_encoding(data: bytes) -> str | None:
    """UTF-16 or UTF-32, by the mark at the beginning or by zero bytes in every second place."""
    if data.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        return "UTF-32"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "UTF-16"
    head = data[:64]
    if b"\0" * 3 in head:
        return "UTF-32, or no text at all"
    zeros = max(head[::2].count(0), head[1::2].count(0))
    return "UTF-16" if len(head) >= 4 and zeros * 4 > len(head) else None


def line_starts(text: str) -> list[int]:
    """Where each line of a text begins, in characters."""
    return [0, *(match.end() for match in BREAK.finditer(text))]
