"""Writes a judged line as plain JSON values and reads it back unchanged; knows no database and no Django."""

import dataclasses
import datetime as dt
from typing import Any

from progress.judging.judgement import ClassStall, Drop, Gap, Knot, Line


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
    return _plain(line)


def read_line(record: dict[str, Any]) -> Line:
    """The very line that was written."""
    values = dict(record)
    for name in ("since_on", "since_from", "flagged_on", "first_on", "last_on"):
        values[name] = _day(values[name])
    values["weeks_to_target"] = tuple(values["weeks_to_target"])
    values["held_back"] = tuple(values["held_back"])
    values["knots"] = tuple(Knot(**{**knot, "on": _day(knot["on"])}) for knot in values["knots"])
    values["gap"] = Gap(**values["gap"]) if values["gap"] else None
    values["drop"] = _drop(values.get("drop"))
    return Line(**values)


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
