"""What the YAML parser has to say, in plain words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import yaml

from planner.text.text_file import shown

_QUOTES_OPEN: Final = "quotes that are not closed"
_NO_COLON: Final = "a line without a colon"
_BRACKET_OPEN: Final = "a bracket or brace that is not closed, or a comma that is missing"
_BACKSLASH: Final = "a backslash in double quotes before a letter that makes no escape"
_NO_CHARACTER: Final = "an escape in double quotes that is no character"
_STAR: Final = "a value that begins with & or *"
_BAR: Final = "a value that begins with | or >"
_TOLD_WHERE_IT_BEGINS: Final = (_QUOTES_OPEN, _NO_COLON, _BACKSLASH, _NO_CHARACTER, _STAR, _BAR)
_OTHERWISE: Final = (
    "text that is not YAML",
    "lines of the form `key: value`",
    "check quotes, brackets and indentation here",
)
_WORD_DASH = re.compile(r" *[\u2010-\u2015\u2022\u00b7*] ")
_SLASHES = re.compile(r".*[^:]//")
_GLUED = re.compile(r"(?:- )?([A-Za-z_]\w*):\S")

# Parts of the parser's message with ` | ` between them, then: what was found, what is allowed, how to mend it. The
# parser in C and the one in Python word some of them differently. The first that fits is taken.
_WORDS: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "mapping values are not allowed",
        "a colon where no key can stand",
        "one `key: value` on a line, or text with a colon in quotes",
        "put quotes around text that holds a colon, or line the key up with those above",
    ),
    (
        "could not find expected ':'",
        _NO_COLON,
        "a key, a colon, a space and a value",
        "write `key: value`, or line this up with the text that it belongs to",
    ),
    (
        "found unexpected end of stream | document separator",
        _QUOTES_OPEN,
        "quotes in pairs",
        "close the quotes that open here",
    ),
    (
        "expected ',' or ",
        _BRACKET_OPEN,
        "entries with commas between them, and a closing bracket",
        "add the comma or the closing bracket",
    ),
    (
        "did not find expected key | did not find expected '-' indicator | expected <block end>",
        "a line that does not line up with those above",
        "the keys of one map, or the dashes of one list, in one column",
        "check the indentation and the line above",
    ),
    (
        "sequence entries are not allowed",
        "a dash where no list can stand",
        "a list on the lines below its key",
        "begin the list on a new line",
    ),
    (
        "that cannot start any token",
        "a character that cannot begin a value",
        "a letter, a digit, or text in quotes",
        "put the value in quotes",
    ),
    ("expected alphabetic or numeric character", _STAR, "text in quotes", "put the value in quotes"),
    (
        "chomping or indentation | indentation indicator | comment or line break | comment or a line break",
        _BAR,
        "text in quotes",
        "put the value in quotes",
    ),
    ("unknown escape character", _BACKSLASH, "single quotes around text with backslashes", "use single quotes"),
    ("escape | hexadecimal", _NO_CHARACTER, "single quotes around text with backslashes", "write the character itself"),
    ("tag | URI", "a value that begins with an exclamation mark", "text in quotes", "put the value in quotes"),
    (
        "expected the node content | did not find expected node content",
        "a bracket, brace or comma where a value should stand",
        "a value, or text in quotes",
        "write the value, or put it in quotes",
    ),
    (
        "<document start>",
        "text after the end of the profile",
        "one profile in a file",
        "check the indentation, or take the text away",
    ),
    ("nesting depth", "brackets in brackets without end", "a few levels", "close the brackets"),
)


def plain_words(error: yaml.YAMLError, lines: Sequence[str]) -> tuple[int, int, str, str, str]:
    """Line, column, found, allowed and fix for an error of the YAML parser.

    `lines` are those of the text. The place is where the fault begins, as far as the parser knows, and always inside
    the text.
    """
    message = str(getattr(error, "problem", None) or error)
    mark = getattr(error, "problem_mark", None)
    opened = getattr(error, "context_mark", None)
    found, allowed, fix = _OTHERWISE
    for parts, *words in _WORDS:
        if any(part in message for part in parts.split(" | ")):
            found, allowed, fix = words
            break
    if opened is not None and found in _TOLD_WHERE_IT_BEGINS:
        mark = opened
    line, column = (mark.line + 1, mark.column + 1) if mark is not None else (1, 1)
    if line > len(lines):
        line, column = len(lines), len(lines[-1]) + 1
    text = lines[line - 1].strip()
    glued = _GLUED.match(text)
    if found == _NO_COLON and glued is not None:
        found, allowed, fix = "a colon without a space after it", "a space after the colon", f"write {glued[1]}: ..."
    elif _WORD_DASH.match(lines[line - 1]):
        found, allowed, fix = (
            "a dash or dot of a word processor",
            "a hyphen and a space before each of a list",
            "type a hyphen",
        )
    elif _SLASHES.match(text):
        found, allowed, fix = "a remark behind //", "remarks behind a space and #", "write # in place of //"
    if text:
        found += f", in `{shown(text, 60)}`"
    if found.startswith(_BRACKET_OPEN) and opened is not None:
        found += f", opened at {opened.line + 1}:{opened.column + 1}"
    return line, column, found, allowed, fix
