"""Text measured and broken into lines: what fits, what is shrunk or wrapped. Nothing is ever cut."""

from __future__ import annotations

from functools import lru_cache

from planner.pages.drawing import fonts
from planner.pages.drawing.fonts import Face

SMALL = 9.0
"""Nothing on paper is smaller, points."""
LONGEST_LINE = 43.0
"""Greatest length of a line of prose, in type sizes: some 95 letters; from a longer one the eye loses the next."""
_MOST_TEXTS = 4096

UNIT_GAP = 2.2
RUN_IN_GAP = 5.0


def run_in_height(title: str, text: str, room: float, size: float = SMALL) -> float:
    """Height of what `Page.run_in` draws, points."""
    indent = fonts.width(fonts.clean(title), "bold", size) + RUN_IN_GAP
    return len(wrap_after(indent, text, "regular", size, room)) * leading(size)


def split_unit(text: str) -> tuple[str, str]:
    """A figure and its unit, apart: `1650 psi` gives `1650` and `psi`; `14:38` has no unit."""
    head, _, tail = text.partition(" ")
    return (head, tail) if head[:1].isdigit() or head[:1] in "-+<" else (text, "")


def figure_width(text: str, size: float, face: Face = "bold", unit_size: float = SMALL) -> float:
    """Width of a figure with its unit, as `Page.figure` draws it, points."""
    number, unit = split_unit(fonts.clean(text))
    wide = fonts.width(number, face, size)
    return wide + (UNIT_GAP + fonts.width(unit, "regular", unit_size) if unit else 0.0)


def leading(size: float) -> float:
    """Distance between lines: a quarter beyond the type size (NASA CR-177605, from memory)."""
    return 1.25 * size


def fit(text: str, face: Face, size: float, room: float) -> float:
    """The size at which a text fits into `room` points, or 9 pt where even that is too long: then wrap it."""
    wide = fonts.width(text, face, size)
    return size if wide <= room else max(SMALL, size * room / wide - 0.01)


def wrap_after(indent: float, text: str, face: Face, size: float, room: float) -> list[str]:
    """Break a text into lines, the first of which begins `indent` points in; it may be empty."""
    words = fonts.clean(text).split(" ")
    space = fonts.width(" ", face, size)
    count, wide = 0, indent - space
    for word in words:
        wide += space + fonts.width(word, face, size)
        if wide > room:
            break
        count += 1
    rest = " ".join(words[count:])
    return [" ".join(words[:count]), *(wrap(rest, face, size, room) if rest else [])]


def wrap(text: str, face: Face, size: float, room: float) -> list[str]:
    """Break a text into lines of at most `room` points, at spaces, or inside too long a word."""
    return list(_lines(fonts.clean(text), face, size, room))


@lru_cache(maxsize=_MOST_TEXTS)
def _lines(text: str, face: Face, size: float, room: float) -> tuple[str, ...]:
    """The lines of a text, kept: most are measured before they are drawn, and many stand on every pack."""
    lines: list[str] = []
    space = fonts.width(" ", face, size)
    line: list[str] = []
    used = 0.0
    for word in text.split(" "):
        wide = fonts.width(word, face, size)
        if line and used + space + wide <= room:
            line.append(word)
            used += space + wide
            continue
        if line:
            lines.append(" ".join(line))
        if wide > room:
            *full, last = _pieces(word, face, size, room)
            lines += full
            line, used = [last], fonts.width(last, face, size)
        else:
            line, used = [word] if word else [], wide
    if line:
        lines.append(" ".join(line))
    return tuple(lines)


def _pieces(word: str, face: Face, size: float, room: float) -> list[str]:
    """A word in pieces of at most `room` points, of one letter at the least."""
    pieces = []
    while fonts.width(word, face, size) > room and len(word) > 1:
        keep = len(word) - 1
        while keep > 1 and fonts.width(word[:keep], face, size) > room:
            keep -= 1
        pieces.append(word[:keep])
        word = word[keep:]
    return [*pieces, word]


def beside(title: str, size: float, detail: str, detail_size: float, room: float, gap: float) -> list[tuple[str, str]]:
    """Lines of a bold title, each with what stands behind it: the detail after its last where it fits, else below."""
    titles = wrap(title, "bold", size, room)
    details = wrap(detail, "regular", detail_size, room) if detail else []
    used = fonts.width(titles[-1], "bold", size) + gap
    if len(details) == 1 and used + fonts.width(details[0], "regular", detail_size) <= room:
        return [*((text, "") for text in titles[:-1]), (titles[-1], details[0])]
    return [*((text, "") for text in titles), *(("", text) for text in details)]
