"""Stand-in for rpds, which has no WebAssembly form: the persistent map, set and list that jsonschema's libraries use.

Each change gives a new object and leaves the old one as it was. Copies cost time in proportion to the size; what is
kept here are a few schemas. The methods have the names and the meaning of the library's own.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from typing import Any


class HashTrieMap(Mapping):
    """A map that never changes; `insert`, `update`, `remove` and `discard` give a new one."""

    def __init__(self, value: Mapping | Iterable = (), **named: Any) -> None:
        self._items = dict(value, **named)

    @classmethod
    def convert(cls, value: Any) -> HashTrieMap:
        return value if isinstance(value, cls) else cls(value)

    def __getitem__(self, key: Hashable) -> Any:
        return self._items[key]

    def __iter__(self) -> Iterator:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __hash__(self) -> int:
        return hash(frozenset(self._items.items()))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Mapping) and self._items == dict(other)

    def __repr__(self) -> str:
        return f"HashTrieMap({self._items!r})"

    def insert(self, key: Hashable, value: Any) -> HashTrieMap:
        return HashTrieMap({**self._items, key: value})

    def update(self, *more: Mapping | Iterable, **named: Any) -> HashTrieMap:
        items = dict(self._items)
        for each in more:
            items.update(each)
        return HashTrieMap(items, **named)

    def remove(self, key: Hashable) -> HashTrieMap:
        if key not in self._items:
            raise KeyError(key)
        return self.discard(key)

    def discard(self, key: Hashable) -> HashTrieMap:
        return HashTrieMap({each: value for each, value in self._items.items() if each != key})


class HashTrieSet(frozenset):
    """A set that never changes; `insert`, `remove`, `discard` and `update` give a new one."""

    def insert(self, value: Hashable) -> HashTrieSet:
        return HashTrieSet(self | {value})

    def discard(self, value: Hashable) -> HashTrieSet:
        return HashTrieSet(self - {value})

    def remove(self, value: Hashable) -> HashTrieSet:
        if value not in self:
            raise KeyError(value)
        return self.discard(value)

    def update(self, *more: Iterable) -> HashTrieSet:
        return HashTrieSet(self.union(*more))


class List(tuple):
    """A list that never changes, read from its front; `push_front` and `drop_first` give a new one."""

    __slots__ = ()

    def __new__(cls, value: Iterable = ()) -> List:
        return super().__new__(cls, value)

    @property
    def first(self) -> Any:
        if not self:
            raise IndexError("empty list has no first element")
        return self[0]

    @property
    def rest(self) -> List:
        return List(self[1:])

    def push_front(self, value: Any) -> List:
        return List((value, *self))

    def drop_first(self) -> List:
        if not self:
            raise IndexError("empty list has no first element")
        return self.rest
