"""What the YAML parser has to say, in plain words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import yaml

from planner.text_file import shown

_SPACES: Final = "check the indentation and the line above"
_QUOTES_OPEN: Final = "quotes that are not closed"
_NO_COLON: Final = "a line without a colon"
_BRACKET_OPEN: Final = "a bracket or brace that is not closed, or a comma that is missing"
_OTHERWISE: Final = (
    "text that is not YAML",
    "lines of the form `key: value`",
    "check quotes, brackets and indentation here",
)
_GLUED = re.compile(r"(?:- )?([A-Za-z_]\w*):\S")

# Part of the parser's message, then: what was found, what is allowed, how to mend it. The parser in C and the one
# in Python word some of them differently. The first that fits is taken.
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
        "found unexpected end of stream",
        _QUOTES_OPEN,
        "quotes in pairs",
        "close the quotes that open here",
    ),
    (
        "document separator",
        _QUOTES_OPEN,
        "quotes in pairs",
        "close the quotes that open here",
    ),
    (
        "did not find expected ',' or ",
        _BRACKET_OPEN,
        "entries with commas between them, and a closing bracket",
        "add the comma or the closing bracket",
    ),
    (
        "expected ',' or ",
        _BRACKET_OPEN,
        "entries with commas between them, and a closing bracket",
        "add the comma or the closing bracket",
    ),
    (
        "did not find expected key",
        "a line that does not line up with those above",
        "keys of one map in one column",
        _SPACES,
    ),
    (
        "expected <block end>",
        "a line that does not line up with those above",
        "keys of one map in one column",
        _SPACES,
    ),
    (
        "did not find expected '-' indicator",
        "a line that does not line up with the list above",
        "entries of one list in one column, each with a dash and a space",
        _SPACES,
    ),
    (
        "sequence entries are not allowed",
        "a dash where no list can stand",
        "a list on the lines below its key",
        "begin the list on a new line",
    ),
    (
        "found character that cannot start any token",
        "a character that cannot begin a value",
        "a letter, a digit, or text in quotes",
        "put the value in quotes",
    ),
    (
        "that cannot start any token",
        "a character that cannot begin a value",
        "a letter, a digit, or text in quotes",
        "put the value in quotes",
    ),
    (
        "unknown escape character",
        "a backslash in double quotes before a letter that makes no escape",
        "single quotes around text with backslashes",
        "use single quotes",
    ),
    (
        "escape",
        "an escape in double quotes that is no character",
        "single quotes around text with backslashes",
        "write the letter itself",
    ),
    (
        "expected the node content",
        "a bracket, brace or comma where a value should stand",
        "a value, or text in quotes",
        "write the value, or put it in quotes",
    ),
    (
        "did not find expected node content",
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
    for part, *words in _WORDS:
        if part in message:
            found, allowed, fix = words
            break
    if opened is not None and found in (_QUOTES_OPEN, _NO_COLON):
        mark = opened
    line, column = (mark.line + 1, mark.column + 1) if mark is not None else (1, 1)
    if line > len(lines):
        line, column = len(lines), len(lines[-1]) + 1
    text = lines[line - 1].strip()
    glued = _GLUED.match(text)
    if found == _NO_COLON and glued is not None:
        found, allowed, fix = "a colon without a space after it", "a space after the colon", f"write {glued[1]}: ..."
    if text:
        found += f", in `{shown(text, 60)}`"
    if found.startswith(_BRACKET_OPEN) and opened is not None:
        found += f", opened at {opened.line + 1}:{opened.column + 1}"
    return line, column, found, allowed, fix
