"""Reads a file of past results against the studio: who and what each row means, and what it would change."""
import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from screening import results_file
from screening.models import Measure
from screening.results_known import AT_CAP, BESIDE, CapQuestion, KnownStudio, NameQuestion, stored_results
from screening.results_rows import PlannedResult, attempt_of_row, plan_row
from screening.results_wide import long_sheet
from studio.family.queries import withheld
from studio.file_check import FileCheck, order_of_dates
from studio.models import ClassGroup, Consent, Student
from studio.roster_check import named_by_classes
from studio.sheet_file import Sheet, read_sheet
from studio.sheets.several import is_day


@dataclass(frozen=True)
class ResultsCheck(FileCheck):
    """The preview of a file of results; `plan`: PlannedResult of every row; what must be said of caps and of names."""

    caps: tuple[CapQuestion, ...] = ()
    names: tuple[NameQuestion, ...] = ()

    @property
    def questions_first(self) -> tuple[PlannedResult, ...]:
        """The rows as they are shown: those that ask something before the others."""
        return tuple(sorted(self.plan, key=lambda row: row.outcome != "ask"))

    @property
    def digest(self) -> str:
        text = "\n".join(
            f"{p.number}|{p.outcome}|{p.written}|{p.student and p.student.pk}|{p.before and p.before.pk}|{p.on}"
            f"|{p.measure and p.measure.pk}|{p.side}|{p.attempt}|{p.assessor and p.assessor.pk}|{p.assessor_name}"
            f"|{p.protocol and p.protocol.version}"
            for p in self.plan
        )
        return hashlib.sha256(text.encode()).hexdigest()[:24]


def open_results(content: bytes, filename: str, wanted: str = "") -> Sheet:
    """The file as a table of one result a row, of the sheets that are wanted; UnreadableFile where it is none."""
    sheet = read_sheet(content, filename, heading_score=results_file.heading_score, wanted=wanted)
    return long_sheet(sheet, _measure_words(Measure.objects.all()))


def _measure_words(measures: Iterable[Measure]) -> dict[str, str]:
    """What a file may call a measure -> its key."""
    return {
        word: measure.key for measure in measures
        for word in (measure.key, measure.name, measure.short_name, str(measure), gettext(measure.short_name))
    }


def guessed_columns(sheet: Sheet) -> dict[int, str]:
    """What each column is taken for; sheets that are called like days or classes say each row's day or class."""
    found = {index: name for index, name in results_file.guess_columns(sheet.headings).items() if name}
    if sheet.name_column is not None and "date" not in found.values() and all(map(is_day, sheet.taken_names)):
        return found | {sheet.name_column: "date"}
    return found | named_by_classes(sheet, found)


def check_results(
    sheet: Sheet, *, columns: Mapping[int, str], order: str, class_group: ClassGroup, today: dt.date,
    caps: Mapping[str, str] | None = None, names: Mapping[str, str] | None = None, left: Collection[int] = (),
) -> ResultsCheck:
    """Every row read, understood and compared with the results there are; a fixed number of queries.

    What a person said: caps, measure key to BESIDE or AT_CAP where values lie above the cap of now; names, a
    NameQuestion's key to its answer; left, the places of the rows that were left out by hand.
    """
    found, used = order_of_dates(sheet, columns, results_file.DATE_FIELDS, order)
    studio = KnownStudio(class_group)
    reading = results_file.read_results(
        sheet, columns, date_order=used or "ambiguous", measures=_measure_words(studio.measures.values()), today=today,
        measure_names=[gettext(m.short_name) for m in studio.measures.values()], left=left, gettext=gettext,
    )
    studio.caps = {q.measure.key: q for q in _cap_questions(reading.rows, studio, caps or {})}
    studio.ask_names(reading.rows, names or {})
    studio.results = stored_results(row.on for row in reading.rows if row.on)
    plan = [plan_row(at, row, studio) for at, row in enumerate(reading.rows)]
    return ResultsCheck(
        sheet=sheet, columns=dict(columns), order_found=found, order=used,
        problems=tuple(p for p in reading.problems if p.row_number is None),
        questions=tuple(q.message for q in reading.questions),
        plan=_refuse_repeated([_left_out(row) if row.at in left and row.has_tick else row for row in plan]),
        caps=tuple(studio.caps.values()), names=tuple(studio.names.values()),
    )


def check_draft(draft: Any, *, today: dt.date) -> tuple[ResultsCheck, ClassGroup]:
    """The check of a kept draft with the answers given so far."""
    answers = draft.answers
    class_group = ClassGroup.objects.get(pk=answers["class_group"])
    check = check_results(
        open_results(bytes(draft.content), draft.filename, answers.get("sheet", "")),
        columns={int(index): name for index, name in answers["columns"].items()}, order=answers.get("order", ""),
        class_group=class_group, today=today, caps=answers.get("caps"), names=answers.get("names"),
        left=frozenset(answers.get("left", ())),
    )
    return check, class_group


def still_as_planned(rows: Iterable[PlannedResult]) -> list[PlannedResult]:
    """Those rows that mean the same still: nobody entered that attempt, was erased or took a consent back since."""
    rows = list(rows)
    here = Student.objects.filter(pk__in={row.student.pk for row in rows})
    here = set(here.exclude(pk__in=withheld(Consent.MEASUREMENTS, timezone.now())).values_list("pk", flat=True))
    stored = stored_results(row.on for row in rows)
    return [
        row for row in rows
        if row.student.pk in here and stored.get(attempt_of_row(row)) == row.before
    ]


def _left_out(row: PlannedResult) -> PlannedResult:
    return replace(row, outcome="leave", reasons=(gettext("Left out by hand."),))


def _cap_questions(
    rows: Iterable[results_file.ResultRow], studio: KnownStudio, answers: Mapping[str, str]
) -> Iterable[CapQuestion]:
    """For each measure whose protocol has a cap: the values above it that name no protocol of their own."""
    above: dict[str, list[Decimal]] = defaultdict(list)
    for row in rows:
        measure = studio.measures.get(row.measure)
        if measure is None or row.value is None or row.protocol or row.problems:
            continue
        cap = studio.latest(measure).cap
        if cap is not None and cap < row.value <= measure.hard_high:
            above[measure.key].append(row.value)
    for key, values in above.items():
        answer = answers.get(key, "")
        yield CapQuestion(
            studio.measures[key], studio.latest(studio.measures[key]).cap, max(values), len(values),
            answer if answer in (BESIDE, AT_CAP) else "",
        )


def _refuse_repeated(plan: list[PlannedResult]) -> tuple[PlannedResult, ...]:
    """Two rows that turn out to mean the same attempt: the second is refused."""
    taken: dict[tuple, int] = {}
    made = []
    for row in plan:
        if row.outcome not in ("refuse", "ask", "leave"):
            key = attempt_of_row(row)
            if key in taken:
                reason = gettext("The same attempt as row %(number)s.") % {"number": taken[key]}
                row = replace(row, outcome="refuse", reasons=(reason,))
            else:
                taken[key] = row.number
        made.append(row)
    return tuple(made)
