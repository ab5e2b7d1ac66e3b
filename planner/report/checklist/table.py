"""The table of checklist lines, `planner/trade/data/checklists.csv`: conditions, order, wording, sources.

A condition is a row of words that must all hold; `a|b` holds where one of both does, `!a` where `a` does not.
Which words there are stands in `planner.report.checklist.facts`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cache
from typing import NamedTuple

from planner.trade.catalog import rows

COMMON_PRACTICE = "common practice, no source"
EACH_FIXED = "each_fixed"
"""The condition of a line that is printed once for each supply that stays with a vehicle."""
EACH_BACKUP = "each_backup"
"""The condition of a line that is printed once for each supply that takes over for those of vehicles."""


class TableRow(NamedTuple):
    """One line of the table: `ask` is read aloud, `answer` is what must be true; either may name `{figures}`.

    `part` is the heading beside it. `key` is stable and part of the name of its tick in the fillable form.
    """

    list: str
    part: str
    order: int
    key: str
    when: str
    ask: str
    answer: str
    source: str

    def filled(self, texts: Mapping[str, str]) -> tuple[str, str]:
        """`ask` and `answer` with the figures put in. Raises KeyError for a figure that is not in `texts`."""
        return self.ask.format_map(texts), self.answer.format_map(texts)


def condition_holds(when: str, words: Collection[str]) -> bool:
    """Whether a condition is met.

    >>> condition_holds("pin_index|threaded !litres", {"threaded"})
    True
    >>> condition_holds("pin_index|threaded !litres", {"threaded", "litres"})
    False
    """
    return all(any(_holds(word, words) for word in clause.split("|")) for clause in when.split())


def _holds(word: str, words: Collection[str]) -> bool:
    return word.removeprefix("!") not in words if word.startswith("!") else word in words


def words_of(when: str) -> tuple[str, ...]:
    """The words that a condition asks for, without its signs."""
    return tuple(word.removeprefix("!") for clause in when.split() for word in clause.split("|"))


@cache
def lines_of_list(name: str) -> tuple[TableRow, ...]:
    """The lines of one list in their order; empty for a name that no line has."""
    found = [
        TableRow(
            list=row["list"],
            part=row["part"],
            order=int(row["order"]),
            key=row["key"],
            when=row["when"],
            ask=row["ask"],
            answer=row["answer"],
            source=row["source"],
        )
        for row in rows("checklists.csv")
        if row["list"] == name
    ]
    return tuple(sorted(found, key=lambda row: row.order))


def lines_that_hold(name: str, words: Collection[str]) -> tuple[TableRow, ...]:
    """The lines of a list whose condition is met. Lines of one order stand for one another: the first that holds."""
    found: dict[int, TableRow] = {}
    for row in lines_of_list(name):
        if row.order not in found and condition_holds(row.when, words):
            found[row.order] = row
    return tuple(found.values())
