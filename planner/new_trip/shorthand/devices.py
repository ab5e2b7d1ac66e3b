"""The device of a line with its settings, where the line leaves no doubt of them."""

from __future__ import annotations

from collections.abc import Sequence

from planner import figures
from planner.new_trip.answers import AnswerError
from planner.new_trip.device_answers import device_settings
from planner.new_trip.shorthand import words
from planner.new_trip.shorthand.statements import Statement
from planner.new_trip.shorthand.tokens import Token
from planner.new_trip.shorthand.understood import DEVICE, Said, SaidDevice
from planner.new_trip.usual import UsualDevices
from planner.profile.limits import LIMITS
from planner.text import quantities
from planner.text.text_file import shown
from planner.trade.catalog import DeviceType, device_types, settings


def take_devices(said: Said, found: Sequence[Statement], usual: UsualDevices) -> None:
    """Every device of a line; `usual` are those of the service by name. Settings apart belong to the only one."""
    apart = [one for one in found if one.form == "settings"]
    found = [one for one in found if one.form == "device"]
    if len(found) == 1:
        found = [Statement("device", (*found[0].tokens, *(token for one in apart for token in one.tokens)))]
    else:
        for one in apart:
            said.doubt(DEVICE, one.text, "it is not said of which device", "say it behind its device")
    for one in found:
        device = _device(said, one, usual)
        if device is not None:
            said.devices.append(device)
    names = [device.name for device in said.devices]
    whole = [device for device in said.devices if not _now_and_then(device_types()[device.type])]
    if len(found) > 1 and (len(whole) != 1 or len(set(names)) < len(names)):
        why = "more than one device, and nothing says whether they run at once"
        said.doubt(DEVICE, " and ".join(one.text for one in found), why, "say the one that runs; the others are asked")


def _now_and_then(kind: DeviceType) -> bool:
    """True for what runs beside another device for a while: a nebulizer, not a resuscitator behind a ventilator."""
    return "part_time" in kind.traits and "by_hand" not in kind.traits


def _device(said: Said, one: Statement, usual: UsualDevices) -> SaidDevice | None:
    word, drive = one.first("D"), one.first("d")
    if word is None:
        return None
    if word.value == words.WHICH_MASK:
        may = "simple mask, reservoir mask, air-entrainment mask, tracheostomy mask"
        said.doubt(DEVICE, one.text, f"which mask is not said: {may}", "say which")
        return None
    if one.first("B"):
        said.doubt(
            DEVICE, one.text, "what stands by is asked for with the device that it stands behind", "leave it out"
        )
        return None
    kind = device_types()[word.value]
    if "drive" in kind.keys and drive is None:
        said.doubt(DEVICE, one.text, "what drives the ventilator is not said", "say electric or gas driven before it")
        return None
    names = [
        name
        for name, texts in usual.items()
        if texts["type"] == kind.name and (drive is None or texts.get("drive") == drive.value)
    ]
    if len(names) != 1:
        why, fix = f"{len(names)} devices of the list are a {kind.title}", f"say {' or '.join(names)}"
        if not names:
            why, fix = f"the list has no {kind.title}", "take another one when it is asked for, or add it to the list"
        said.doubt(DEVICE, one.text, why, fix)
        return None
    given = _settings(said, one, kind)
    return None if given is None else SaidDevice(kind.name, names[0], tuple(given.items()))


def _settings(said: Said, one: Statement, kind: DeviceType) -> dict[str, str] | None:
    """The settings of a device by key; None where one is in doubt, which is told."""
    texts: list[str] = []
    key = ""
    for token in one.tokens:
        if token.kind == "K":
            key = token.value
        elif token.kind in "NFLVPR":
            text = _value(token, key, kind)
            if text is None:
                why = f"`{shown(token.text)}` has no unit that says what it is"
                said.doubt(DEVICE, one.text, why, f"write it with its unit, as in {settings()[kind.keys[0]].example}")
                return None
            texts.append(text)
            key = ""
    try:
        given = device_settings(", ".join(texts), kind) if texts else {}
    except AnswerError as error:
        said.doubt(
            DEVICE, one.text, str(error).rstrip(".").replace(". Fix: ", "; "), "say what is set on it, with units"
        )
        return None
    if kind.name == "cpap" and set(given) == {"oxygen_flow"} and not one.first("K"):
        fix = "say oxygen flow, or total flow and FiO2"
        said.doubt(DEVICE, one.text, "a flow that may be oxygen alone or the whole blend", fix)
        return None
    given = {key: given[key] for key in kind.keys if key in given}
    return given if _usual(said, one, kind, given) else None


def _value(token: Token, key: str, kind: DeviceType) -> str | None:
    """A value as an answer has it, with its key where one is sure; None where it is not."""
    if key:
        what = settings()[key].kind
        if token.kind == "N":
            unit = {"flow": " L/min", "rate": "/min"}.get(what)
            share = what == "fraction" and float(token.value) <= 1.0
            return f"{key} {token.value}{unit}" if unit else f"{key} {token.value}" if share else None
        number = token.value.partition(" ")[0]
        return f"{key} {number} L/min" if token.kind == "L" and what == "flow" else f"{key} {token.value}"
    flows = [name for name in ("flow",) if name in kind.keys]
    if token.kind == "N" or (token.kind == "L" and flows):
        return f"flow {token.value.partition(' ')[0]} L/min" if flows else None
    return token.value


def _usual(said: Said, one: Statement, kind: DeviceType, given: dict[str, str]) -> bool:
    """True where every setting is within what is usual; told where not: so far off, another device may be meant."""
    for key, text in given.items():
        usual = kind.usual.get(key)
        value = quantities.parse(text, settings()[key].kind)
        limit = LIMITS.get(key)
        if limit is not None and not limit.holds(value):
            said.doubt(DEVICE, one.text, f"{key} {text}, which cannot be; {limit.allowed}", "say it again")
            return False
        if usual is not None and not usual.low <= value <= usual.high:
            limits = f"{figures.plain(usual.low)} to {figures.plain(usual.high)} {usual.unit}"
            why = f"{key} {text} is unusual for a {kind.title}: {limits}"
            said.doubt(DEVICE, one.text, why, "say it again if it is so set")
            return False
    return True
