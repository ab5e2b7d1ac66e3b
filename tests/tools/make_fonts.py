"""Make the fonts of the printed pages: subsets of DejaVu Sans 2.37, under a name of their own.

The zero stays plain: after two copies a slash closes its counter, and it is read as an 8.

Run it with the folder that holds DejaVuSans.ttf and its neighbours (Debian and Ubuntu: the package
`fonts-dejavu`), in an environment that has fontTools:

    python tests/tools/make_fonts.py /usr/share/fonts/truetype/dejavu

The same source files give the same bytes. `planner/fonts/README.md` says what was done and why.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

TARGET = Path(__file__).resolve().parents[2] / "planner" / "fonts"

FAMILY = "PlanSans"
VERSION = "Version 1.0"
FACES = {
    "DejaVuSans.ttf": ("PlanSans", "Regular"),
    "DejaVuSans-Bold.ttf": ("PlanSans", "Bold"),
    "DejaVuSansCondensed.ttf": ("PlanSansCondensed", "Regular"),
    "DejaVuSansCondensed-Bold.ttf": ("PlanSansCondensed", "Bold"),
}

RANGES = (
    (0x0020, 0x007E),  # basic Latin
    (0x00A0, 0x024F),  # Latin-1, Latin Extended-A and -B
    (0x02B0, 0x02FF),  # modifier letters
    (0x0300, 0x036F),  # combining marks
    (0x0370, 0x03FF),  # Greek
    (0x0400, 0x052F),  # Cyrillic
    (0x1E00, 0x1EFF),  # Latin Extended Additional
    (0x2000, 0x205F),  # punctuation
    (0x2070, 0x209C),  # superscripts and subscripts
    (0x20A0, 0x20BF),  # currency
    (0x2190, 0x2199),  # arrows
)
SINGLES = "℃℉№™⅓⅔⅛⅜⅝⅞⇒⇔∆∑−∕√∞≈≠≡≤≥■□▪▫▲△▶▷▼▽◀◁◆◇○●☐☑☒⚠✓✔✗✘"


def characters() -> set[int]:
    """The code points to keep."""
    kept = {code for first, last in RANGES for code in range(first, last + 1)}
    return kept | {ord(character) for character in SINGLES}


def pattern(codes: set[int]) -> str:
    """Code points as between the brackets of a pattern, for `planner/text/letters.py`."""
    parts: list[str] = []
    for code in sorted(codes):
        if code - 1 not in codes:
            last = code
            while last + 1 in codes:
                last += 1
            parts.append(f"\\u{code:04x}" + ("" if last == code else f"{'-' * (last > code + 1)}\\u{last:04x}"))
    return "".join(parts)


def rename(font: TTFont, family: str, style: str, source: str) -> None:
    """Give the font its own name, as its licence asks of a changed one, and keep the copyright notice."""
    table = font["name"]
    notice = table.getDebugName(0)
    post_script = f"{family}-{style}"
    full = family if style == "Regular" else f"{family} {style}"
    texts = {
        0: f"{notice}\nChanged: a subset of {source} 2.37.",
        1: family,
        2: style,
        3: f"{post_script} 1.0",
        4: full,
        5: VERSION,
        6: post_script,
        13: "See LICENSE.txt beside this font.",
    }
    table.names = []
    for number, text in texts.items():
        table.setName(text, number, 3, 1, 0x409)


def describe(font: TTFont) -> str:
    """Heights that the layout needs, written into the font too, as shares of the type size."""
    glyphs, units = font["glyf"], font["head"].unitsPerEm
    x_height, cap_height = glyphs["x"].yMax, glyphs["H"].yMax
    metrics = font["OS/2"]
    if metrics.version < 4:
        metrics.version = 4
        metrics.usDefaultChar, metrics.usBreakChar, metrics.usMaxContext = 0, 32, 0
    metrics.sxHeight, metrics.sCapHeight = x_height, cap_height
    digits = {font["hmtx"][font.getBestCmap()[code]][0] for code in range(0x30, 0x3A)}
    return (
        f"x-height {x_height / units:.4f}, capitals {cap_height / units:.4f}, "
        f"ascender {font['hhea'].ascent / units:.4f}, descender {font['hhea'].descent / units:.4f}, "
        f"digit widths {sorted(width / units for width in digits)}"
    )


def make(source: Path, family: str, style: str) -> Path:
    """Make one face and write it."""
    font = TTFont(source, recalcTimestamp=False)
    options = subset.Options(
        layout_features=[],
        hinting=False,
        glyph_names=True,
        notdef_outline=True,
        name_IDs=["*"],
        drop_tables=[*subset.Options().drop_tables, "FFTM", "GDEF", "GPOS", "GSUB", "MATH", "kern"],
    )
    subsetter = subset.Subsetter(options)
    subsetter.populate(unicodes=characters())
    subsetter.subset(font)
    rename(font, family, style, source.stem)
    heights = describe(font)
    font["post"].formatType = 3.0
    target = TARGET / (f"{family}.ttf" if style == "Regular" else f"{family}-{style}.ttf")
    font.save(target)
    print(f"{target.name}: {target.stat().st_size} bytes, {len(font.getBestCmap())} characters, {heights}")
    return target


def main() -> None:
    """Make every face from the folder named on the command line."""
    if len(sys.argv) != 2:
        sys.exit("usage: python tests/tools/make_fonts.py FOLDER-WITH-DEJAVU-SANS")
    folder = Path(sys.argv[1])
    for name, (family, style) in FACES.items():
        if not (folder / name).is_file():
            sys.exit(f"{folder / name}: not found; install DejaVu Sans 2.37 and name its folder")
        make(folder / name, family, style)
    made = [TTFont(path).getBestCmap() for path in TARGET.glob("*.ttf")]
    print(f"SHOWN in planner/text/letters.py: {pattern(set.intersection(*map(set, made)))}")


if __name__ == "__main__":
    main()
