"""What a file of a what-if says of it, beside what it alters."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from planner.go.whatifs.scenario import Planned, Scenario
from planner.model import Trip
from planner.results import WhatIf


def _no_mend(_: WhatIf) -> tuple[str, ...]:
    return ()


class Kind(NamedTuple):
    """One what-if. Its name is that of its file and of its row in planner/trade/data/what_ifs.csv.

    `title` stands in tables, without a verdict; `condition` begins the sentence of a finding. `scenarios` gives the
    altered trips. `detail` says in a few words what is supposed; None where it begins at the worst minute, which is
    then said. `short_title` is the title of one row in a narrow column, where it is another. `mends` are ways to mend
    it beside those of every what-if. `device_fails`: it belongs to the card's row of failing devices. `at_the_worst`:
    it begins at the worst minute. `about` goes on with the condition: which device, which cylinder.
    """

    title: str
    condition: str
    scenarios: Callable[[Planned], Iterator[Scenario]]
    detail: Callable[[Trip, WhatIf], str] | None = None
    short_title: Callable[[Trip, WhatIf], str] | None = None
    mends: Callable[[WhatIf], tuple[str, ...]] = _no_mend
    device_fails: bool = False
    at_the_worst: bool = False
    about: Callable[[Trip, WhatIf], str] | None = None
