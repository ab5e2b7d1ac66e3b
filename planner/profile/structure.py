"""Holding the tree of a profile against its JSON Schema, and telling what is wrong in words of the trade.

The schema judges keys, kinds and choices. Quantities are left to the reader that follows, which knows units; what it
then does not tell about is told here after all, so that nothing the schema refuses passes in silence.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from typing import Final, TypeAlias

from planner.profile.conform import Refusal, Schema, conforms, refusals, resolve
from planner.profile.faults import MOST_GATHERED, Faults, listed_names, told
from planner.profile.limits import LIMITS
from planner.profile.meant import Given, as_delays, can_hold, given_in, keys_meant
from planner.profile.refusal_words import (
    by_example,
    describe,
    how_to_add,
    how_to_mend,
    in_one_line,
    only_meant,
    place_of,
    plain,
    written_anew,
)
from planner.text import quantities
from planner.text.label_contents import label_contents
from planner.text.quantity_mends import CURLY
from planner.text.source import Node
from planner.text.text_file import show
from planner.trade.schemas import schema

_WHOLE = re.compile(r"[+-]?[0-9]{1,6}", re.ASCII)
_DECIMALS = re.compile(r"[0-9]{1,6}(?: *[A-Za-z/%].{0,40})?", re.ASCII)
_EQUALS = re.compile(r"(\w+) *= *([^=]+)")
_FIRST: Final = ("type", "additionalProperties", "required")

StillToTell: TypeAlias = list[tuple[Node, Refusal]]
"""What the schema refused and the reader has still to tell about."""

MOST_REFUSALS: Final = 10 * MOST_GATHERED
"""Some faults are refused more than once, each missing key of a mapping for example; with so many, reading ends."""


def check(faults: Faults, root: Node, name: str) -> tuple[Node, StillToTell]:
    """Tell every fault of structure of a tree by the schema `name`; marks what is not to be read further.

    Gives the tree to read on with, in which a misspelt key or choice is told and then taken as what it was meant to
    be, so that nobody calls it missing and what hangs on it is judged too.
    """
    rules = schema(name)
    while not conforms(value := plain(root), rules, rules):
        places = dict(_places(root, ()))
        refused = list(islice(refusals(value, rules), MOST_REFUSALS))
        found = [(places[refusal.path], refusal) for refusal in sorted(refused, key=_order)]
        meant = dict(_misread(faults, found)) or dict(_misspelt(faults, found))
        if not meant:
            left: StillToTell = []
            for node, refusal in found:
                if id(node) not in faults.refused:
                    _tell(faults, node, rules, refusal, left)
            if len(refused) == MOST_REFUSALS and faults:
                raise told(faults.problems, ended=True)
            return root, left
        root = _respelt(root, meant)
    return root, []


def tell_left(faults: Faults, left: StillToTell) -> None:
    """Tell of what the schema refused where the reader found nothing to say."""
    places = {(problem.file, problem.line, problem.column) for problem in faults.problems}
    for node, refusal in left:
        if places.isdisjoint((part.file or faults.file, part.line, part.column) for part in node.walk()):
            faults.add(node, "not_allowed", describe(node), refusal.rules["description"], by_example(refusal.rules))


def _tell(faults: Faults, node: Node, rules: Schema, refusal: Refusal, left: StillToTell) -> None:
    if refusal.name is not None:
        _bad_name(faults, node, refusal)
    elif anew := written_anew(node, refusal):
        faults.refused.add(id(node))
        found = f"{place_of(refusal.path)} with {show(in_one_line(plain(node)))}"
        faults.add(node, "not_allowed", found, refusal.rules["description"], anew)
    elif refusal.keyword == "additionalProperties":
        _unknown_keys(faults, node, rules, refusal)
    elif refusal.keyword == "required":
        _missing_keys(faults, node, rules, refusal)
    elif node.missing:
        _wrong_value(faults, node, refusal, "value_missing")
    elif refusal.keyword == "oneOf" or (node.kind == "scalar" and "x-quantity" in refusal.rules):
        left.append((node, refusal))
    else:
        _wrong_value(faults, node, refusal, "not_allowed")


def _bad_name(faults: Faults, node: Node, refusal: Refusal) -> None:
    key = node.key(refusal.name or "")
    if key is not None and id(key) not in faults.refused:
        faults.refused.add(id(key))
        faults.add(key, "bad_name", f"the name {show(key.text)}", refusal.rules["description"], "choose another name")


def _order(refusal: Refusal) -> tuple[int, int]:
    """What explains other refusals first."""
    rank = _FIRST.index(refusal.keyword) if refusal.keyword in _FIRST else len(_FIRST)
    return len(refusal.path), rank


def _misread(faults: Faults, found: list[tuple[Node, Refusal]]) -> Iterator[tuple[int, str]]:
    """Identity of every choice that can have been meant for one alone, and that one; each is told."""
    for node, refusal in found:
        if refusal.keyword == "enum" and not node.missing and id(node) not in faults.refused:
            meant = only_meant(node, refusal)
            if meant is not None:
                _wrong_value(faults, node, refusal, "not_allowed")
                yield id(node), meant


def _misspelt(faults: Faults, found: list[tuple[Node, Refusal]]) -> Iterator[tuple[int, str]]:
    """Identity of every misspelt key and what was meant; each is told.

    None is looked for where there are so many unknown keys that to tell of them ends the reading.
    """
    unknown = list(islice(_unknown(found), MOST_GATHERED))
    taken = set[tuple[int, str]]()
    for given, key, value, known in unknown if len(unknown) < MOST_GATHERED else ():
        fitting = keys_meant(given, key, value, known)
        meant = fitting[0] if len(fitting) == 1 else ""
        if meant and (id(given), meant) not in taken and not (meant == "delays" and value.kind == "scalar"):
            taken.add((id(given), meant))
            mends = ((key.text, meant),)
            faults.add(
                key, "key_unknown", f"unknown key {show(key.text)}", listed_names(known), f"write `{meant}`", mends
            )
            yield id(key), meant


def _unknown(found: list[tuple[Node, Refusal]]) -> Iterator[tuple[Given, Node, Node, Schema]]:
    """Every unknown key with its value, what its mapping has, and the schemas of the keys that are known there."""
    for node, refusal in found:
        if refusal.keyword == "additionalProperties":
            given, known = given_in(node), refusal.rules["properties"]
            yield from ((given, key, value, known) for key, value in node.pairs if key.text not in known)


def _respelt(node: Node, meant: dict[int, str]) -> Node:
    """The tree with keys and choices as they were meant."""
    if node.kind == "scalar":
        return node._replace(text=meant[id(node)], quoted=False) if id(node) in meant else node
    items = tuple(_respelt(item, meant) for item in node.items)
    pairs = tuple(
        (key._replace(text=meant[id(key)]) if id(key) in meant else key, _respelt(value, meant))
        for key, value in node.pairs
    )
    return node._replace(items=items, pairs=pairs)


def _unknown_keys(faults: Faults, node: Node, rules: Schema, refusal: Refusal) -> None:
    """Keys that are none, and that cannot be taken for one that is missing.

    One of them where one key is missing is told with it: most often the one stands for the other.
    """
    known: Schema = refusal.rules["properties"]
    unknown = [key for key, _ in node.pairs if key.text not in known]
    missing = [name for name in refusal.rules.get("required", ()) if node.get(name) is None]
    given = given_in(node)
    for before, (key, rest) in zip((None, *node.pairs), node.pairs, strict=False):
        if key.text in known:
            continue
        if before is not None and _cut_at_comma(before[1], key, rest):
            _tell_cut_number(faults, *before, key)
            continue
        found = f"unknown key {show(key.text)}"
        fix, mends = _mend_of_key(given, key, rest, known)
        if not mends and len(unknown) == len(missing) == 1 and _can_be(missing[0], rest, known, rules):
            faults.told.add((id(node), missing[0]))
            found += f", and no `{missing[0]}`"
            what = resolve(known[missing[0]], rules)["description"]
            fix = (
                f"write `{missing[0]}` ({what}) in its place if that is meant, else take it out and add `{missing[0]}`"
            )
        faults.add(key, "key_unknown", found, listed_names(known), fix, mends)


def _can_be(name: str, value: Node, known: Schema, rules: Schema) -> bool:
    """True where a value can stand at a key, by its kind and its unit."""
    return conforms(plain(value), known[name], rules) and can_hold(Given(), name, value)


def _tell_cut_number(faults: Faults, name: Node, value: Node, rest: Node) -> None:
    """A number with a comma in `{ }`, where the comma begins a new key; read as if it stood on a line of its own."""
    faults.refused.add(id(value))
    whole = f"{value.text},{rest.text}"
    limit = LIMITS.get(name.text)
    if limit is None and name.text != "contents":
        found, may = f"`{whole}` with a comma, which begins a new key here", "a point before decimals"
        faults.add(value, "not_a_number", found, may, "write the number with a point, or without the comma")
        return
    try:
        label_contents(whole) if limit is None else quantities.parse(whole, limit.kind)
    except quantities.QuantityError as error:
        found = f"{name.text} {error.found}"
        found += "" if "," not in error.found or "begins a new key" in found else ", which begins a new key here"
        mends = tuple((whole, mend) for mend in error.mends)
        faults.add(value, error.code, found, error.allowed, error.fix, mends)


def _mend_of_key(given: Given, key: Node, value: Node, known: Schema) -> tuple[str, tuple[tuple[str, str], ...]]:
    """How to mend an unknown key, and the mend where there is one to type. What is not understood stays in."""
    typed = _EQUALS.fullmatch(key.text)
    if typed is not None and typed[1] in known and value.missing:
        return f"write `{typed[1]}: {typed[2]}`, with a colon", ((key.text, f"{typed[1]}: {typed[2]}"),)
    found = keys_meant(given, key, value, known)
    waits = as_delays(key.text, value) if found == ("delays",) else None
    if waits is not None:
        return f"write `delays: {waits}`", ((f"{key.text}: {value.text}", f"delays: {waits}"),)
    if found:
        return f"write {' or '.join(f'`{name}`' for name in found)}", tuple((key.text, name) for name in found)
    there = keys_meant(Given(), key, value, known)
    if there and key.file is not None:
        return f"write `{there[0]}`", ((key.text, there[0]),)
    if there:
        return f"`{there[0]}` stands here already: keep the one that is right", ()
    return "say it with one of the keys that are allowed; a remark stands behind # on a line of its own", ()


def _cut_at_comma(before: Node, key: Node, value: Node) -> bool:
    """True for a key that with the value before it is a number with a decimal comma, as in `{flow: 2,5 L/min}`."""
    whole, decimals = _WHOLE.fullmatch(before.text), _DECIMALS.fullmatch(key.text)
    return value.missing and whole is not None and decimals is not None


def _missing_keys(faults: Faults, node: Node, rules: Schema, refusal: Refusal) -> None:
    """Every missing key of a mapping at once; the library refuses each by itself and names it in its message alone."""
    for key in refusal.rule:
        if node.get(key) is not None or (id(node), key) in faults.told:
            continue
        faults.told.add((id(node), key))
        part = resolve(refusal.rules["properties"][key], rules)
        found = f"{refusal.rules['title']} without `{key}`"
        fix = how_to_add(key, part)
        faults.add(node, "key_missing", found, f"`{key}`, {part['description']}", fix)


def _wrong_value(faults: Faults, node: Node, refusal: Refusal, code: str) -> None:
    faults.refused.add(id(node))
    allowed = listed_names(refusal.rules["enum"]) if "enum" in refusal.rules else refusal.rules["description"]
    place = place_of(refusal.path)
    found = f"{place} {'' if node.kind == 'scalar' else 'with '}{describe(node)}".strip()
    if node.missing:
        found = f"{place} without a value"
    elif refusal.keyword == "maxLength":
        found = f"{place} with {len(node.text)} characters"
    if node.kind == "scalar" and node.text.strip(CURLY) != node.text:
        found += " in curly quotes"
    meant = None if node.missing else only_meant(node, refusal)
    if meant is not None:
        plainly = ", without quotes" if node.quoted or meant in ("true", "false") else ""
        faults.add(node, code, found, allowed, f"write `{meant}`{plainly}", ((node.text, meant),))
    else:
        faults.add(node, code, found, allowed, how_to_mend(node, refusal))


def _places(node: Node, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], Node]]:
    """Every value of a tree by its path."""
    yield path, node
    for index, item in enumerate(node.items):
        yield from _places(item, (*path, index))
    for key, value in node.pairs:
        yield from _places(value, (*path, key.text))
