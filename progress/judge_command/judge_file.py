"""A file of results into facts for the judge, row by row with the reason for every refusal; read as imports are.

Pure: bytes in, frozen facts out; knows no database, no clock and no student of the studio.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from progress.judging.engine.stories import DEFAULT_ERROR, DEFAULT_GAIN, OTHER_ASSESSOR_FACTOR
from progress.judging.judgement import MeasureFacts, ResultFact
from screening.results_wide import long_sheet
from studio.sheet_file import Sheet, UnreadableFile, read_sheet
from studio.sheets.cells import MEGABYTE, SheetRow, fold
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
        "attempt": "attempt, attempt number, trial, try, trial number, versuch, durchgang, essai",
        "cap": "cap, highest, highest grade, best grade, maximum, ceiling, limit, most, max",
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
# A file may say how far its own grades go: the largest "cap" of a measure of grades.
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
# More than a large school writes in ten years (our choice); only a CSV file may be so large.
LARGEST_BYTES, MOST_ROWS = 200 * MEGABYTE, 3_000_000


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


def read_results_file(content: bytes, filename: str = "results.csv") -> ResultsFile:
    r"""Return the facts of a file, CSV or a workbook, in any layout that an import of results reads.

    Columns, loosely matched, in any order: student, measure, date, value; optional class, side, attempt, assessor,
    protocol, cap, target, typical_error; others are ignored. Or a column for each test, or a sheet for each day. A
    value with "at least", >= or at its cap is capped; for grades the largest cap says how far the scale goes. Attempts
    of a day count once, as on the pages: the best hold, the last count or grade. The target of a student and measure
    is the last one in the file by date; the typical error of a measure is the median of its column. Raises
    UnreadableResults, with a sentence, for an empty file, one that is no table, or missing columns.

    >>> file = read_results_file(b"Dancer;Test;Foot;Day;Score\nIda;rises;left;2031-01-07;12\nIda;x-ray;;;3")
    >>> file.classes[""][0].value, file.refusals[0].reason
    (12.0, '“x-ray” is not a measure known here: rises, balance holds or control grades.')
    """
    sheet = _sheet(content, filename)
    named = first_of_each([field_named(heading, _HEADINGS) for heading in sheet.headings])
    columns = {name: index for index, name in named.items() if name}
    if sheet.name_column is not None and "date" not in columns:
        columns["date"] = sheet.name_column
    missing = [name for name in REQUIRED if name not in columns]
    if missing:
        raise UnreadableResults(f"The first row must name the columns; not found: {', '.join(missing)}.")
    dates = [row.cells[columns["date"]] for row in sheet.rows]
    reader = _Reader(columns, date_order(dict.fromkeys(dates)))
    reader.refuse_far_days(dict.fromkeys(dates))
    return reader.file(sheet.rows)


def _sheet(content: bytes, filename: str) -> Sheet:
    def known(cells: Sequence[str]) -> int:
        return len({field_named(cell, _HEADINGS) for cell in cells} - {""})

    try:
        sheet = read_sheet(
            content, filename, heading_score=known, most_rows=MOST_ROWS, most_bytes=LARGEST_BYTES)
        is_long = {"measure", "value"} & {field_named(heading, _HEADINGS) for heading in sheet.headings}
        return sheet if is_long else long_sheet(sheet, _KIND_BY_WORDS)
    except UnreadableFile as error:
        raise UnreadableResults(str(error)) from error


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
        self.tops: dict[str, float] = {}
        self.attempts: dict[int, int] = {}

    def refuse_far_days(self, texts: Iterable[str]) -> None:
        """Read all dates first, and refuse those far from the middle one: a slip of the year is no long absence."""
        self.days = {text: self._read_day(text) for text in texts}
        known = sorted(day for day in self.days.values() if isinstance(day, date))
        if known:
            middle = known[(len(known) - 1) // 2]
            for text, day in self.days.items():
                if isinstance(day, date) and abs(day.year - middle.year) > _LONGEST_YEARS:
                    self.days[text] = _FAR.format(text[:40])

    def file(self, rows: Sequence[SheetRow]) -> ResultsFile:
        refusals = []
        self._find_tops(rows)
        for row in rows:
            try:
                self._take(row)
            except _Refused as why:
                refusals.append(Refusal(row.number, str(why)))
        measures = {key: self._measure(key) for key in self.spelling}
        targets = {key: value for key, (_, value) in self.targets.items()}
        classes = {name: tuple(self._one_a_day(facts)) for name, facts in self.facts.items()}
        return ResultsFile(classes, measures, targets, self.spelling, tuple(refusals))

    def _find_tops(self, rows: Sequence[SheetRow]) -> None:
        """How far the grades of each measure go, where the file says it."""
        at, cap = self.columns["measure"], self.columns.get("cap")
        for row in rows if cap is not None else ():
            top = _number(row.cells[cap])
            if top is not None and top >= 1 and measure_kind(row.cells[at]) == "grade":
                key = fold(row.cells[at])
                self.tops[key] = max(top, self.tops.get(key, 0.0))

    def _one_a_day(self, facts: list[ResultFact]) -> Iterable[ResultFact]:
        """The attempts of a day as one fact, in the order of the file: the best hold, else the last attempt."""
        days: dict[tuple, ResultFact] = {}
        for fact in facts:
            where = (fact.student, fact.measure, fact.side, fact.on, fact.protocol)
            there = days.setdefault(where, fact)
            if there is fact:
                continue
            if self.kinds[fact.measure] == "hold":
                better = (fact.value, fact.capped) > (there.value, there.capped)
            else:
                better = self.attempts[fact.key] >= self.attempts[there.key]
            if better:
                days[where] = fact
        return days.values()

    def _take(self, row: SheetRow) -> None:
        def text(name: str) -> str:
            at = self.columns.get(name)
            return row.cells[at] if at is not None else ""

        self._refuse_troubles(row)
        if not text("student"):
            raise _Refused("The student is missing.")
        kind = self._kind(text("measure"))
        side = "" if fold(text("side")) in _NO_SIDE else side_named(text("side"))
        if side is None:
            raise _Refused(f"“{text('side')[:40]}” is neither left nor right.")
        on = self._day(text("date"))
        key = fold(text("measure"))
        value, capped = _value(kind, text("value"), self.tops.get(key, _LARGEST[kind]))
        cap, target, error = (_optional(name, text(name)) for name in ("cap", "target", "typical_error"))
        cap = None if kind == "grade" else cap
        self.spelling.setdefault(key, text("measure"))
        self.kinds[key] = kind
        student = (text("class"), text("student"))
        self.facts.setdefault(text("class"), []).append(
            ResultFact(
                key=self._next_key(text("attempt")),
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

    def _next_key(self, attempt: str) -> int:
        """A key of its own for each fact, for one row of a table with a column for each test gives several."""
        key = len(self.attempts)
        self.attempts[key] = int(attempt) if attempt.isdecimal() and len(attempt) < 4 else 0
        return key

    def _refuse_troubles(self, row: SheetRow) -> None:
        for trouble in row.troubles:
            if trouble.kind == "extra":
                raise _Refused("The row has more cells than there are headings.")
            if trouble.column in self.columns.values() and trouble.kind in ("formula", "error_value"):
                raise _Refused("A cell holds a formula or an error. Write the value itself.")

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
        top, gain = self.tops.get(key, _LARGEST["grade"]), DEFAULT_GAIN[kind]
        ends = (0.0, top) if kind == "grade" else (None, None)
        if kind == "grade":
            # What is usual on 0 to 2 is so many times as much on a longer scale.
            gain *= top / _LARGEST["grade"]
            error *= 1.0 if key in self.errors else top / _LARGEST["grade"]
        return MeasureFacts(key, kind, error, error * OTHER_ASSESSOR_FACTOR, gain, *ends)


def _value(kind: str, text: str, largest: float) -> tuple[float, bool]:
    if not text:
        raise _Refused("The value is missing.")
    if kind == "grade" and fold(text) in _GRADE_WORDS:
        return _GRADE_WORDS[fold(text)], False
    bare = _AT_LEAST.sub("", text)
    capped = bare != text or bare.endswith("+")
    value = _number(_UNIT.sub("", bare.rstrip("+").strip()))
    if value is None:
        raise _Refused(f"“{text[:40]}” is not a value that can be read.")
    if not 0 <= value <= largest:
        raise _Refused(f"{text[:40]} is outside what this measure can give (0 to {largest:.0f}).")
    if kind == "grade" and value != int(value):
        raise _Refused(f"{text[:40]} is not a control grade: a whole number from 0 to {largest:.0f}.")
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
