"""The small grammar of a line: which tokens make a statement, and whether a part can be taken in one way alone."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from planner.new_trip.shorthand.tokens import Token

_SETTINGS: Final = "(?:K?[NFLVPR])*"
_FORMS: Final = {
    "device": re.compile(rf"B?d?D{_SETTINGS}B?|[FL]D(?![KNFLVPR])"),
    "leg": re.compile(r"(?:Q?T|TQ)M*(?:\+(?:[NT]W|W[NT]))*M*"),
    "wait": re.compile(r"W[NT]|TW"),
    "longest": re.compile(r"X[NT]"),
    "cylinder": re.compile(r"J?Y?(?:C?[Ss][GN]|[GN][Ss]|LGrG)U?m?|J?Y?[Ss]m?"),
    "setting": re.compile(r"E"),
    "outlet": re.compile(r"[FLN]O|O[FLN]|o"),
    "cabin": re.compile(r"AZ|ZA"),
    "aside": re.compile(r"a"),
}
_SETTINGS_APART: Final = re.compile(r"(?:K[NFLVPR])+")
"""Settings with their names, between commas of their own: of the only device, if there is one."""

_ALONE: Final = {"road": "road", "fly": "air"}
"""What a word for a leg says of the setting, where it stands alone between commas."""
MOST_TOKENS: Final = 40


class Statement(NamedTuple):
    """One statement: its form and its tokens.

    `after` is the form that stands right before it in the same part, `part` the number of that part.
    """

    form: str
    tokens: tuple[Token, ...]
    after: str = ""
    part: int = 0

    @property
    def text(self) -> str:
        """As typed."""
        return " ".join(token.text.strip() for token in self.tokens)

    def all(self, kinds: str) -> list[Token]:
        """Its tokens of some kinds."""
        return [token for token in self.tokens if token.kind in kinds]

    def first(self, kinds: str) -> Token | None:
        """Its first token of some kinds."""
        return next(iter(self.all(kinds)), None)


def statements(tokens: tuple[Token, ...]) -> tuple[tuple[Statement, ...], ...]:
    """The ways in which the tokens of a part make statements: none, one, or the first two of several."""
    if not tokens or len(tokens) > MOST_TOKENS:
        return ()
    alone = _ALONE.get(tokens[0].value) if len(tokens) == 1 and tokens[0].kind == "Q" else None
    if alone is not None:
        return ((Statement("setting", (Token("E", tokens[0].text, alone),)),),)
    kinds = "".join(token.kind for token in tokens)
    if _SETTINGS_APART.fullmatch(kinds):
        return ((Statement("settings", tokens),),)
    ways: dict[int, list[tuple[tuple[str, int], ...]]] = {len(kinds): [()]}
    for start in range(len(kinds) - 1, -1, -1):
        here = [
            ((form, start), *rest)
            for form, pattern in _FORMS.items()
            for end in range(start + 1, len(kinds) + 1)
            if pattern.fullmatch(kinds, start, end)
            for rest in ways[end]
        ]
        ways[start] = here[:2]
    return tuple(_made(way, tokens) for way in ways[0])


def _made(way: tuple[tuple[str, int], ...], tokens: tuple[Token, ...]) -> tuple[Statement, ...]:
    ends = [*(start for _, start in way[1:]), len(tokens)]
    before = ["", *(form for form, _ in way)]
    return tuple(
        Statement(form, tokens[start:end], after) for (form, start), end, after in zip(way, ends, before, strict=False)
    )
