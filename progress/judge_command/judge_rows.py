"""Judgements of a file as rows, and rows as a table, CSV or JSON; knows no database and no clock."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date

from progress.judge_command.judge_file import ResultsFile
from progress.judging.judgement import ClassJudgement, Line, judge_classes, judge_weekly
from progress.papers.guarded import guarded
from progress.words.verdict import reason
from studio.voice import PLAIN, Voice, counted_weeks

COLUMNS = (
    "class", "student", "measure", "side", "week", "results", "verdict", "p_gain", "p_flat", "p_slip",
    "rate", "rate_low80", "rate_high80", "since_week",
    "weeks_to_target_10", "weeks_to_target_50", "weeks_to_target_90",
    "class_stall", "side_gap", "measure_again", "reason",
)  # fmt: skip
_TEXTS = ("class", "student", "measure", "reason")
Row = dict[str, object]


def judged_rows(
    file: ResultsFile, *, as_of: date | None, weekly: bool, voice: Voice = PLAIN
) -> Iterator[Row]:
    """Yield one row per line, or with `weekly` one per line and week: what would have been said that week.

    as_of: None means, for each class, its last date in the file; results after it are not known. week and
    since_week count from the class's first week, which is 1. Rates are per week in the measure's own unit
    (holds: per cent). Empty fields are None. class_stall: the measure, or "several"; side_gap: right minus
    left in the measure's unit where the feet are apart.
    """
    days = {name: as_of or max(fact.on for fact in facts) for name, facts in file.classes.items()}
    if weekly:
        for name, facts in file.classes.items():
            weeks = judge_weekly(
                facts, measures=file.measures, targets=file.targets, as_of=days[name], with_knots=False
            )
            yield from _class_rows(file, name, weeks, voice)
        return
    judged = judge_classes(file.classes, measures=file.measures, targets=file.targets, as_of=days)
    for name, one in judged.items():
        yield from _class_rows(file, name, [one], voice)


def _class_rows(file: ResultsFile, name: str, weeks: Sequence[ClassJudgement], voice: Voice) -> Iterator[Row]:
    first = min(fact.on for fact in file.classes[name])
    monday = first.toordinal() - first.weekday()
    told = replace(voice, week=counted_weeks(first))
    for judgement in weeks:
        for line in judgement.lines.values():
            yield {"class": name} | _row(file, judgement, line, monday, told)


def _row(file: ResultsFile, judgement: ClassJudgement, line: Line, monday: int, voice: Voice) -> Row:
    def week(on: date | None) -> int | None:
        return None if on is None else (on.toordinal() - monday) // 7 + 1

    stall = next((each for each in judgement.class_stalls if each.measure in (None, line.measure)), None)
    name = file.spelling[line.measure]
    rates = [line.rate, line.rate_low80, line.rate_high80]
    return {
        "student": line.student[1], "measure": name, "side": line.side, "week": week(judgement.as_of),
        "results": line.results, "verdict": line.verdict,
        "p_gain": round(line.p_gain, 4), "p_flat": round(line.p_flat, 4), "p_slip": round(line.p_slip, 4),
        **dict(zip(COLUMNS[10:13], [_rounded(each, 4) for each in rates], strict=True)),
        "since_week": week(line.since_on),
        **dict(zip(COLUMNS[14:17], [_rounded(each, 2) for each in line.weeks_to_target], strict=True)),
        "class_stall": None if stall is None else "several" if stall.measure is None else name,
        "side_gap": _rounded(line.gap.right_minus_left, 2) if line.gap and line.gap.is_apart else None,
        "measure_again": line.measure_again,
        "reason": reason(line, voice=voice, units={line.measure: name}),
    }  # fmt: skip


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places) + 0.0


def written(rows: Iterable[Row], form: str) -> Iterator[str]:
    """Yield the text of the rows piece by piece: form "csv", "json" (one list of objects) or "table".

    Raises ValueError for another form. Texts that a spreadsheet would run get an apostrophe in CSV.
    """
    if form not in ("csv", "json", "table"):
        raise ValueError(f"unknown form {form!r}")
    return {"csv": _csv, "json": _json, "table": _table}[form](rows)


def _csv(rows: Iterable[Row]) -> Iterator[str]:
    page = io.StringIO()
    sheet = csv.writer(page, lineterminator="\n")
    sheet.writerow(COLUMNS)
    for row in rows:
        sheet.writerow([_cell(name, row[name]) for name in COLUMNS])
        yield page.getvalue()
        page.seek(0)
        page.truncate()
    yield page.getvalue()


def _cell(name: str, value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else ""
    return guarded(str(value)) if name in _TEXTS else value


def _json(rows: Iterable[Row]) -> Iterator[str]:
    before = "["
    for row in rows:
        yield before + json.dumps(row, ensure_ascii=False)
        before = ",\n"
    yield "[]\n" if before == "[" else "]\n"


def _table(rows: Iterable[Row]) -> Iterator[str]:
    cells = [list(COLUMNS)] + [[str(_cell("", row[name])) for name in COLUMNS] for row in rows]
    widths = [max(len(line[at]) for line in cells) for at in range(len(COLUMNS))]
    for line in cells:
        yield "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() + "\n"
