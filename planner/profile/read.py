"""A trip profile, format 1: text to `planner.model.Trip`, or every problem at once.

The structure is held against a JSON Schema (`planner.profile.structure`), quantities are read with their units
(`planner.profile.fields`), and what belongs together is checked together. Nothing is guessed: a trip is handed out
only if no problem was found. The language is described in planner/trade/schema/README.md.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final, cast, get_args

from planner.gas import atmosphere
from planner.model import Setting, Trip
from planner.profile import structure
from planner.profile.accepted import read_accepted
from planner.profile.beside import Folder
from planner.profile.clock import read_clock
from planner.profile.devices import read_devices
from planner.profile.faults import Faults, told
from planner.profile.fields import Fields
from planner.profile.legs import read_legs
from planner.profile.letters import tell_letters
from planner.profile.liquid import with_litres
from planner.profile.policies import read_policy
from planner.profile.supplies import read_supplies
from planner.text import source
from planner.text.source import Document, Node

__all__ = ["parse_trip", "read_printed", "read_trip"]

FORMAT: Final = "1"
SETTING_WHEN_SILENT: Final[Setting] = "road"


def read_trip(path: str | os.PathLike[str], changes: Sequence[str] = ()) -> Trip:
    """Read the profile at a path, and the policy file that it names, if any.

    `changes` are values set on the command line, each `PATH=VALUE`, such as `cart.A.gauge=1900 psi`. Raises
    `ProblemsError` with every problem at once, and no other error for any content of the files.
    """
    return _trip(source.load(path), Path(path).parent, changes)


def parse_trip(
    text: str, file: str = "trip.yaml", folder: str | os.PathLike[str] | None = None, changes: Sequence[str] = ()
) -> Trip:
    """Read a profile from a text. `file` is the name that problems carry.

    `folder` is where the path of a policy file starts, the current folder unless given. `changes` and what is
    raised are as in `read_trip`.
    """
    return _trip(source.loads(text, file), Path() if folder is None else Path(folder), changes)


def read_printed(texts: Sequence[tuple[str, str]], file: str, changes: Sequence[str]) -> Trip:
    """Read a trip from the texts that a print of it was made from (`Trip.texts`), and open no other file.

    `file` is the profile that they are read for: problems carry its name, and store files are where it names them.
    Raises as `read_trip`.
    """
    (_, profile), *beside = texts
    return _trip(source.loads(profile, file), Path(file).parent, changes, dict(beside))


def _trip(document: Document, folder: Path, changes: Sequence[str], kept: Mapping[str, str] | None = None) -> Trip:
    root = source.apply_changes(document.root, changes)
    faults = Faults(document.file)
    _check_format(faults, root)
    root, left = structure.check(faults, root, "profile")
    fields = Fields(faults, root, "trip profile")
    given = fields.text("setting")
    setting: Setting = cast(Setting, given) if given in get_args(Setting) else SETTING_WHEN_SILENT
    beside = Folder(folder, folder, kept)
    policy = read_policy(fields, setting, beside)
    clock = read_clock(fields)
    supplies = read_supplies(fields, policy, clock, beside)
    drafts = read_devices(fields, supplies)
    legs = read_legs(fields, drafts, supplies)
    accepted = read_accepted(fields)
    home_altitude_m = fields.quantity("home_altitude")
    structure.tell_left(faults, left)
    tell_letters(faults, root, document.text, *changes)
    if faults:
        raise told(faults.problems)
    return Trip(
        name=fields.text("trip") or "",
        setting=setting,
        policy=policy,
        supplies=with_litres(supplies, legs, clock.departs),
        devices={name: draft.device() for name, draft in drafts.items()},
        legs=legs,
        setting_given=given is not None,
        reference=fields.text("reference"),
        departs=clock.departs,
        home_pressure_kpa=atmosphere.pressure_kpa(home_altitude_m or 0.0),
        home_altitude_m=home_altitude_m or 0.0,
        file=document.file,
        fingerprint=_fingerprint(document.text, *(text for _, text in beside.texts), *changes),
        texts=((Path(document.file).name, document.text), *beside.texts),
        changes=tuple(changes),
        accepted=accepted,
    )


def _check_format(faults: Faults, root: Node) -> None:
    """A profile of another format is judged no further: its keys may mean something else."""
    node = root.get("profile")
    if node is not None and node.kind == "scalar" and node.text.isdecimal() and node.text != FORMAT:
        faults.add(
            node,
            "format_unknown",
            f"profile format {node.text}",
            FORMAT,
            "write `profile: 1`, or use the version of this program that reads the other format",
        )
        raise told(faults.problems)


def _fingerprint(*parts: str) -> str:
    """SHA-256 of texts, each with its length before it, so that no two lists of texts run together."""
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode("utf-8", "surrogatepass")
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()
