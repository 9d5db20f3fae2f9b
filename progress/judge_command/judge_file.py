"""A CSV file of results into facts for the judge, row by row with the reason for every refusal.

Pure: bytes in, frozen facts out; knows no database, no clock and no student of the studio.
"""

from __future__ import annotations

import csv
import io
import math
import re
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from progress.judging.engine.stories import DEFAULT_ERROR, DEFAULT_GAIN, OTHER_ASSESSOR_FACTOR
from progress.judging.judgement import MeasureFacts, ResultFact
from studio.sheets.cells import fold
from studio.sheets.dates import date_order, one_date
from studio.sheets.headings import field_named, fields_by_form, first_of_each
from studio.sheets.rows import side_named

REQUIRED = ("student", "measure", "date", "value")
_HEADINGS = fields_by_form(
    {
        "class": "class, class name, class group, group, course, klasse, kurs, groupe",
        "student": "student, student name, name, dancer, pupil, child, participant, student id, eleve",
        "measure": "measure, measurement, test, test name, strand, exercise, item, variable, messung",
        "side": "side, foot, leg, left right, l r, seite, pied",
        "date": "date, day, on, measured on, tested on, test date, result date, datum",
        "value": "value, result, score, reading, measured, wert, resultat",
        "assessor": "assessor, tester, rater, tested by, measured by, teacher, observer",
        "protocol": "protocol, protocol version, version, protokoll",
        "cap": "cap, maximum, ceiling, limit, most, max",
        "target": "target, goal, aim, ziel",
        "typical_error": "typical error, sem, standard error of measurement, error, te",
    }
)
# What people call the three kinds of measure (common practice, no source).
_KINDS = {
    "count": "rises, rise, rise count, rises one foot, one foot rises, single leg rises, single leg rise, "
    "heel rise, heel rises, heel raise, heel raises, calf raise, releve, releves, eleve, "
    "eleves, calf raises, reps, count",
    "hold": "balance, balances, hold, holds, balance hold, hold seconds, passe balance, passe hold, "
    "retire balance, retire hold, one leg balance, single leg balance, balance eyes closed, "
    "eyes closed balance, eyes closed, stance, plank, seconds",
    "grade": "control, controls, control grade, grade, grades, landing, landings, landing control, "
    "rise control, control of rise, control of landing",
}
_KIND_BY_WORDS = {fold(word): kind for kind, words in _KINDS.items() for word in words.split(",")}
_GRADE_WORDS = {"lost": 0.0, "corrected": 1.0, "clean": 2.0}
# Hard limits: 200 rises and 600 seconds are beyond any record of ours (evidence 13); grades are 0, 1, 2.
_LARGEST = {"count": 200.0, "hold": 600.0, "grade": 2.0}
# A hold's error is a share of the hold; a number above 2 can only be per cent.
_LARGEST_SHARE = 2.0
_NO_SIDE = frozenset({"", "both", "none", "either", "n a"})
_NUMBER = re.compile(r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[-+]?\d+)?", re.ASCII | re.IGNORECASE)
_AT_LEAST = re.compile(r"^(?:≥|>=|>|at least\b)\s*", re.IGNORECASE)
_UNIT = re.compile(r"\s*(?:s|secs?|seconds?|reps?|rises?)\.?$", re.IGNORECASE)
# Nobody is a student for longer (ages 3 to 25, evidence 13); years outside these are slips (our choice).
_LONGEST_YEARS, _FIRST_YEAR, _LAST_YEAR = 22, 1950, 2150
_FAR = "“{}” is far from the other dates. Is the year right?"
_MARKS = (("utf-8-sig", b"\xef\xbb\xbf"), ("utf-16", b"\xff\xfe"), ("utf-16", b"\xfe\xff"))


class UnreadableResults(Exception):
    """The whole file is refused; the message is one clear sentence."""


@dataclass(frozen=True)
class Refusal:
    """One row that was left out: its number as a spreadsheet counts (headings are row 1) and why."""

    row: int
    reason: str


@dataclass(frozen=True)
class ResultsFile:
    """What a file holds: facts per class, measures, targets, the measure's spelling, refusals in order.

    The student of a fact is the pair (class, student), so that one name may stand in two classes.
    """

    classes: Mapping[str, tuple[ResultFact, ...]]
    measures: Mapping[str, MeasureFacts]
    targets: Mapping[tuple[tuple[str, str], str], float]
    spelling: Mapping[str, str]
    refusals: tuple[Refusal, ...]


def measure_kind(text: str) -> str:
    """Return "count", "hold" or "grade" for what a measure is called, "" for an unknown one.

    >>> measure_kind("Heel-rises"), measure_kind("Passé balance (s)"), measure_kind("turnout")
    ('count', 'hold', '')
    """
    return field_named(text, _KIND_BY_WORDS) or _KIND_BY_WORDS.get(fold(text).replace(" ", ""), "")


def read_results_file(content: bytes) -> ResultsFile:
    """Return the facts of a CSV file.

    Columns, loosely matched, in any order: student, measure, date, value; optional class, side, assessor,
    protocol, cap, target, typical_error; others are ignored. Parted by comma, semicolon, tab or bar; UTF-8,
    UTF-16 or Windows-1252. A value with "at least", >= or at its cap is capped. The target of a student and
    measure is the last one in the file by date; the typical error of a measure is the median of its column.
    Raises UnreadableResults, with a sentence, for an empty file, one that is no table, or missing columns.

    >>> file = read_results_file(b"Dancer;Test;Foot;Day;Score\\nIda;rises;left;2031-01-07;12\\nIda;x-ray;;;3")
    >>> file.classes[""][0].value, file.refusals[0].reason
    (12.0, '“x-ray” is not a measure known here: rises, balance holds or control grades.')
    """
    rows = _table(content)
    named = first_of_each([field_named(heading, _HEADINGS) for heading in rows[0][1]])
    columns = {name: index for index, name in named.items() if name}
    missing = [name for name in REQUIRED if name not in columns]
    if missing:
        raise UnreadableResults(f"The first row must name the columns; not found: {', '.join(missing)}.")
    dates = [cells[columns["date"]] for _, cells in rows[1:] if len(cells) > columns["date"]]
    reader = _Reader(columns, date_order(dict.fromkeys(dates)))
    reader.refuse_far_days(dict.fromkeys(dates))
    return reader.file(rows[1:])


def _table(content: bytes) -> list[tuple[int, list[str]]]:
    text = _text(content)
    sample = text[:4096].partition("\n")[0]
    delimiter = max(",;\t|", key=sample.count)
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        rows = [(number, [cell.strip() for cell in cells]) for number, cells in enumerate(reader, start=1)]
    except csv.Error as error:
        raise UnreadableResults("This is not a CSV file that can be read.") from error
    rows = [(number, cells) for number, cells in rows if any(cells)]
    if not rows:
        raise UnreadableResults("The file is empty.")
    if len(rows) == 1:
        raise UnreadableResults("The file has headings but no results below them.")
    return rows


def _text(content: bytes) -> str:
    if content[:4] == b"PK\x03\x04" or b"\x00" in content[:400] and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableResults("This is not a CSV file. Save the sheet as CSV and try again.")
    encodings = [encoding for encoding, mark in _MARKS if content.startswith(mark)] or ["utf-8", "cp1252"]
    for encoding in encodings:
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise UnreadableResults("The letters of this file cannot be read. Save it as CSV in UTF-8 and try again.")


class _Refused(Exception):
    pass


class _Reader:
    """Reads rows of one file; each row gives a fact or a refusal."""

    def __init__(self, columns: Mapping[str, int], order: str) -> None:
        self.columns, self.order = columns, order
        self.days: dict[str, date | str] = {}
        self.facts: dict[str, list[ResultFact]] = {}
        self.spelling: dict[str, str] = {}
        self.kinds: dict[str, str] = {}
        self.errors: dict[str, list[float]] = {}
        self.targets: dict[tuple[tuple[str, str], str], tuple[date, float]] = {}

    def refuse_far_days(self, texts: Iterable[str]) -> None:
        """Read all dates first, and refuse those far from the middle one: a slip of the year is no long absence."""
        self.days = {text: self._read_day(text) for text in texts}
        known = sorted(day for day in self.days.values() if isinstance(day, date))
        if known:
            middle = known[(len(known) - 1) // 2]
            for text, day in self.days.items():
                if isinstance(day, date) and abs(day.year - middle.year) > _LONGEST_YEARS:
                    self.days[text] = _FAR.format(text[:40])

    def file(self, rows: Sequence[tuple[int, list[str]]]) -> ResultsFile:
        refusals = []
        for number, cells in rows:
            try:
                self._take(number, cells)
            except _Refused as why:
                refusals.append(Refusal(number, str(why)))
        measures = {key: self._measure(key) for key in self.spelling}
        targets = {key: value for key, (_, value) in self.targets.items()}
        classes = {name: tuple(facts) for name, facts in self.facts.items()}
        return ResultsFile(classes, measures, targets, self.spelling, tuple(refusals))

    def _take(self, number: int, cells: list[str]) -> None:
        def text(name: str) -> str:
            at = self.columns.get(name)
            return cells[at] if at is not None and at < len(cells) else ""

        if not text("student"):
            raise _Refused("The student is missing.")
        kind = self._kind(text("measure"))
        side = "" if fold(text("side")) in _NO_SIDE else side_named(text("side"))
        if side is None:
            raise _Refused(f"“{text('side')[:40]}” is neither left nor right.")
        on = self._day(text("date"))
        value, capped = _value(kind, text("value"))
        cap, target, error = (_optional(name, text(name)) for name in ("cap", "target", "typical_error"))
        key = fold(text("measure"))
        self.spelling.setdefault(key, text("measure"))
        self.kinds[key] = kind
        student = (text("class"), text("student"))
        self.facts.setdefault(text("class"), []).append(
            ResultFact(
                key=number,
                student=student,
                measure=key,
                side=side,
                on=on,
                value=value,
                capped=capped or (cap is not None and value >= cap),
                protocol=text("protocol"),
                assessor=text("assessor"),
                cap=cap,
            )
        )
        if error is not None and error > 0:
            self.errors.setdefault(key, []).append(error)
        if target is not None and self.targets.get((student, key), (date.min, 0.0))[0] <= on:
            self.targets[student, key] = (on, target)

    def _kind(self, text: str) -> str:
        if not text:
            raise _Refused("The measure is missing.")
        kind = measure_kind(text)
        if not kind:
            raise _Refused(f"“{text[:40]}” is not a measure known here: rises, balance holds or control grades.")
        return kind

    def _day(self, text: str) -> date:
        if text not in self.days:
            self.days[text] = self._read_day(text)
        day = self.days[text]
        if isinstance(day, str):
            raise _Refused(day)
        return day

    def _read_day(self, text: str) -> date | str:
        if not text:
            return "The date is missing."
        # Two digits for the year mean 1970 to 2069 (as POSIX reads them, within a year).
        reading = one_date(text, self.order, earliest=date(1970, 1, 1), latest=date(2069, 12, 31))
        if reading.on is not None:
            return reading.on if _FIRST_YEAR <= reading.on.year <= _LAST_YEAR else _FAR.format(text[:40])
        if reading.trouble == "which_order":
            return f"“{text[:40]}” may be two different days. Write dates as 2031-03-24."
        return f"“{text[:40]}” is not a date. Write dates as 2031-03-24."

    def _measure(self, key: str) -> MeasureFacts:
        kind = self.kinds[key]
        error = statistics.median(self.errors[key]) if key in self.errors else DEFAULT_ERROR[kind]
        if kind == "hold" and error > _LARGEST_SHARE:
            error /= 100.0
        ends = (0.0, _LARGEST["grade"]) if kind == "grade" else (None, None)
        return MeasureFacts(key, kind, error, error * OTHER_ASSESSOR_FACTOR, DEFAULT_GAIN[kind], *ends)


def _value(kind: str, text: str) -> tuple[float, bool]:
    if not text:
        raise _Refused("The value is missing.")
    if kind == "grade" and fold(text) in _GRADE_WORDS:
        return _GRADE_WORDS[fold(text)], False
    bare = _AT_LEAST.sub("", text)
    capped = bare != text or bare.endswith("+")
    value = _number(_UNIT.sub("", bare.rstrip("+").strip()))
    if value is None:
        raise _Refused(f"“{text[:40]}” is not a value that can be read.")
    if not 0 <= value <= _LARGEST[kind]:
        raise _Refused(f"{text[:40]} is outside what this measure can give (0 to {_LARGEST[kind]:.0f}).")
    if kind == "grade" and value != int(value):
        raise _Refused(f"{text[:40]} is not a control grade: 0, 1 or 2.")
    return value, capped


def _optional(name: str, text: str) -> float | None:
    if not text:
        return None
    value = _number(_UNIT.sub("", text.removesuffix("%").strip()))
    if value is None:
        raise _Refused(f"“{text[:40]}” is not a number for the {name.replace('_', ' ')}.")
    return value


def _number(text: str) -> float | None:
    if not _NUMBER.fullmatch(text):
        return None
    value = float(text.replace(",", "."))
    return value if math.isfinite(value) else None
