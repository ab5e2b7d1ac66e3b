"""A page copied twice, dark or light, as it comes out of a poor copier and a copy of that; and a reader of figures.

A generation blurs by 0.13 mm, adds grain, and makes the page black and white. The threshold makes it dark (190 of 255:
strokes grow, counters close) or light (110: strokes thin, hairlines break). By decision: so strong that figures with
a slash in the zero are misread in a fifth to a half of all cases, and a stronger one leaves no figure whole.
"""

from __future__ import annotations

import random
import shutil
import subprocess
from functools import cache
from io import BytesIO
from typing import Any, Final

from PIL import Image, ImageChops, ImageFilter

DOTS_PER_INCH: Final = 200
BLUR, GRAIN = 1.0, 0.7
"""Radius of the blur of the optics and of a grain, dots."""
AMOUNT: Final = 1 / 3
"""How much of the grain's grey is laid over a page."""
THRESHOLDS: Final = {"dark": 190, "light": 110}
READER: Final = shutil.which("tesseract")
"""A general reader of printed text, where one is installed."""


def copied_twice(picture: Any, kind: str) -> Any:
    """A picture in grey, at `DOTS_PER_INCH`, after two generations."""
    for seed in (1, 2):
        blurred = picture.filter(ImageFilter.GaussianBlur(BLUR))
        grained = ImageChops.add(blurred, _grain(picture.size, seed), 1, -128)
        picture = grained.point(lambda grey: 255 if grey > THRESHOLDS[kind] else 0)
    return picture


@cache
def _grain(size: tuple[int, int], seed: int) -> Any:
    """The same grain each time: grey around 128."""
    grain = Image.frombytes("L", size, random.Random(seed).randbytes(size[0] * size[1]))  # noqa: S311 - no secret
    return grain.filter(ImageFilter.GaussianBlur(GRAIN)).point(lambda grey: int(128 + (grey - 128) * AMOUNT))


def misread(lines: list[Any], texts: list[str]) -> list[tuple[str, str]]:
    """Figures, one a picture, of which the reader makes something else: what is printed and what is read.

    All are read in one column first; one that comes out wrong is looked at twice more alone, as an eye would.
    """
    found = column_read(lines)
    return [
        (text, read)
        for line, text, read in zip(lines, texts, found, strict=True)
        if read != text and text not in _looked_at(line)
    ]


def _looked_at(line: Any) -> list[str]:
    looks = ((2, 1.5, "7"), (3, 2.0, "8"))
    return ["".join(_read(_framed(line, scale, soft), mode).values()) for scale, soft, mode in looks]


def column_read(lines: list[Any]) -> list[str]:
    """What the reader makes of pictures that hold one figure each, set one below the other."""
    high = max(line.height for line in lines) + 40
    page = Image.new("L", (max(line.width for line in lines) + 80, high * len(lines)), 255)
    for number, line in enumerate(lines):
        page.paste(line, (40, number * high + 20))
    found = _read(page, "6")
    return ["".join(text for middle, text in found.items() if middle // high == number) for number in range(len(lines))]


def _framed(line: Any, scale: int, soft: float) -> Any:
    framed = Image.new("L", (scale * line.width + 80, scale * line.height + 80), 255)
    framed.paste(line.resize((scale * line.width, scale * line.height)), (40, 40))
    return framed.filter(ImageFilter.GaussianBlur(soft))


def _read(page: Any, mode: str) -> dict[float, str]:
    """What the reader finds, by how far down its middle is, dots."""
    assert READER is not None
    data = BytesIO()
    page.save(data, "PNG", dpi=(DOTS_PER_INCH, DOTS_PER_INCH))
    command = [READER, "-", "-", "--psm", mode, "-c", "tessedit_char_whitelist=0123456789", "tsv"]
    ran = subprocess.run(command, input=data.getvalue(), capture_output=True, check=True)
    rows = [row.split("\t") for row in ran.stdout.decode().splitlines()[1:]]
    words = [
        (int(row[7]) + int(row[9]) / 2, int(row[6]), row[11].strip()) for row in rows if row[11:] and row[11].strip()
    ]
    found: dict[float, str] = {}
    for middle, _, text in sorted(words, key=lambda word: word[1]):
        near = next((other for other in found if abs(other - middle) < 20), middle)
        found[near] = found.get(near, "") + text
    return found
