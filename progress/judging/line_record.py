"""Writes a judged line as plain JSON values and reads it back unchanged; knows no database and no Django."""

import base64
import dataclasses
import datetime as dt
import struct
from collections.abc import Hashable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from progress.judging.judgement import Carried, ClassStall, Drop, Gap, Knot, Line, LineKey

# The names under which the parts of a line are written, as short as may be: a studio stores thousands, and a tap writes
# thirty of them anew. A name is never given away again; a part that has none here is written by its own.
_SHORT = {
    "student": "s", "measure": "m", "side": "f", "verdict": "v", "results": "n", "results_missing": "nm",
    "results_in_protocol": "np", "level": "l", "level_low80": "l0", "level_high80": "l1", "rate": "r",
    "rate_low80": "r0", "rate_high80": "r1", "p_gain": "pg", "p_flat": "pf", "p_slip": "ps", "p_no_gain": "pn",
    "since_on": "so", "since_from": "sf", "weeks_to_target": "w", "target": "t", "at_cap": "c", "gap": "g",
    "one_sided": "o", "with_class": "wc", "flagged_on": "fl", "held_back": "h", "measure_again": "a",
    "first_on": "d0", "last_on": "d1", "first_level": "l2", "knots": "k", "scale": "sc", "has_new_protocol": "pr",
    "is_stale": "st", "pace_if_gaining": "pa", "drop": "dr", "asks": "as", "easing": "e", "seen": "se",
    "flag_chance": "fc",
}
_LONG = {short: name for name, short in _SHORT.items()}
_DAYS = ("since_on", "since_from", "flagged_on", "first_on", "last_on")
_OF_KNOT = ("level", "level_low80", "level_high80", "band_low", "band_high")
# Knots of weeks that are over come with two decimals (read_line.KNOT_DECIMALS): each value in two bytes.
_PARTS, _MOST = 100, 2**16
# What is empty is not written: a studio stores thousands of lines.
_EMPTY = {field.name: None for field in dataclasses.fields(Line)} | {
    field.name: field.default for field in dataclasses.fields(Line)
    if field.default is not dataclasses.MISSING and not field.default
} | {
    "side": "", "at_cap": False, "one_sided": False, "with_class": False, "measure_again": False, "held_back": (),
    "weeks_to_target": (None, None, None),
}


def _plain(value: Any) -> Any:
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Knot):
        return {name: _plain(part) for name, part in value._asdict().items()}
    if dataclasses.is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, list | tuple | frozenset):
        return [_plain(item) for item in value]
    return value


def _day(text: str | None) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None


def write_line(line: Line) -> dict[str, Any]:
    """A line as JSON values; floats keep every digit."""
    record = {}
    for name, empty in _EMPTY.items():
        value = getattr(line, name)
        if type(value) is not type(empty) or value != empty:
            record[_SHORT.get(name, name)] = _written_knots(line) if name == "knots" else _plain(value)
    if line.gap is not None:
        record["g"] = list(record["g"].values())
    return record


def read_line(record: dict[str, Any]) -> Line:
    """The very line that was written; also one of a finished term, as they were once written, by their long names."""
    values = _EMPTY | {_LONG.get(name, name): value for name, value in record.items()}
    for name in _DAYS:
        values[name] = _day(values[name])
    values["weeks_to_target"] = tuple(values["weeks_to_target"])
    values["held_back"] = tuple(values["held_back"])
    said = [values[name] for name in _OF_KNOT[:3]]
    values["knots"] = tuple(_read_knots(values["knots"], said))
    gap = values["gap"]
    values["gap"] = Gap(**gap) if isinstance(gap, dict) else Gap(*gap) if gap else None
    values["drop"] = _drop(values["drop"])
    return Line(**values)


def _written_knots(line: Line) -> list[Any]:
    # Day of the first one and of the last from there, where another protocol begins, which are stale; then the weeks
    # that are over as numbers of two bytes, and the last as it is, without what the line says itself. Days that are no
    # weeks apart, and numbers that do not fit, are written as they are.
    knots, first, last = line.knots, line.knots[0].on, line.knots[-1]
    days = [(knot.on - first).days for knot in knots]
    is_weekly = days[:-1] == [7 * at for at in range(len(days) - 1)]
    drawn = [getattr(last, name) for name in _OF_KNOT]
    is_said = drawn[:3] == [getattr(line, name) for name in _OF_KNOT[:3]]
    over = [getattr(knot, name) for knot in knots[:-1] for name in _OF_KNOT]
    parts = [round(value * _PARTS) for value in over]
    fits = all(0 <= part < _MOST and part / _PARTS == value for part, value in zip(parts, over, strict=True))
    changes = [[0, knots[0].protocol]]
    changes += [[at, now.protocol] for at, (before, now) in enumerate(pairwise(knots), 1)
                if now.protocol != before.protocol]
    return [
        first.isoformat(), days[-1] if is_weekly else days, changes,
        [at for at, knot in enumerate(knots) if knot.stale],
        _text(struct.pack(f"<{len(parts)}H", *parts)) if fits else over, drawn[3:] if is_said else drawn,
    ]


def _read_knots(record: Sequence[Any], said: list[float]) -> list[Knot]:
    if not record or isinstance(record[0], dict):
        return [Knot(**{**knot, "on": _day(knot["on"])}) for knot in record]
    first, days, changes, stale, over, last = record
    if isinstance(over, str):
        packed = base64.b64decode(over)
        over = [part / _PARTS for part in struct.unpack(f"<{len(packed) // 2}H", packed)]
    last = last if len(last) == len(_OF_KNOT) else [*said, *last]
    values = [*(over[at : at + len(_OF_KNOT)] for at in range(0, len(over), len(_OF_KNOT))), last]
    if isinstance(days, int):
        days = [*(7 * at for at in range(len(values) - 1)), days]
    protocols, protocol, knots = dict(changes), None, []
    for at, (day, own) in enumerate(zip(days, values, strict=True)):
        protocol = protocols.get(at, protocol)
        knots.append(Knot(_day(first) + dt.timedelta(days=day), *own, protocol, at in stale))
    return knots


def _drop(record: dict[str, Any] | None) -> Drop | None:
    if not record:
        return None
    return Drop(**{**record, "usual_on": _day(record["usual_on"]), "low_on": _day(record["low_on"])})


def write_stall(stall: ClassStall) -> dict[str, Any]:
    return _plain(stall)


def read_stall(record: dict[str, Any]) -> ClassStall:
    values = dict(record)
    values["since_on"] = _day(values["since_on"])
    values["members"] = tuple(values["members"])
    return ClassStall(**values)


def write_carried(lines: Mapping[LineKey, Carried]) -> list[dict[str, Any]]:
    """What is carried of one student's lines; its filter as eight bytes a number, so that no digit is lost."""
    return [
        {"measure": key[1], "side": key[2], **_plain(dataclasses.replace(each, state=())), "state": _packed(each.state)}
        for key, each in lines.items()
    ]


def read_carried(student: Hashable, records: list[dict[str, Any]]) -> dict[LineKey, Carried]:
    """The very lines that were written."""
    return {(student, record["measure"], record["side"]): _carried(record) for record in records}


def _carried(record: dict[str, Any]) -> Carried:
    values = {name: value for name, value in record.items() if name not in ("measure", "side")}
    for name in ("monday", "first_on", "last_on"):
        values[name] = _day(values[name])
    packed = base64.b64decode(values["state"])
    values["state"] = struct.unpack(f"<{len(packed) // 8}d", packed)
    values["held_back"] = tuple(values["held_back"])
    return Carried(**values)


def _packed(numbers: Sequence[float]) -> str:
    return _text(struct.pack(f"<{len(numbers)}d", *numbers))


def _text(packed: bytes) -> str:
    return base64.b64encode(packed).decode()
