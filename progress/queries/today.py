"""Reads the first page: today's classes with their next sensible step."""
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.drawing.term_ruler import Ruler, term_ruler
from progress.models import ClassLog, Standing
from progress.queries.resting import from_rising, rests
from progress.queries.to_go import to_go, to_go_words, who_is_left
from progress.words.speech import names_in_a_row
from screening.models import Screening
from studio.family.queries import consented
from studio.models import Consent, Enrolment, Student, Term
from studio.queries import ClassToday, barre_names

# A class that was not measured for this long is asked about; screenings are about five weeks apart. Studio's rule.
MEASURE_AFTER = dt.timedelta(weeks=5)


# A holiday of so many days more than its first leaves a gap in the rail.
GAP_FROM_DAYS = 4


def ruler_of(term: Term, today: dt.date) -> Ruler:
    """The rail of this term with the week of `today` on it."""
    long = [each for each in term.holidays.all() if (each.ends_on - each.starts_on).days >= GAP_FROM_DAYS]
    return term_ruler(
        weeks=term.week_count, week=term.week_number(today), is_inside=term.starts_on <= today <= term.ends_on,
        holidays=[(term.week_number(each.starts_on), term.week_number(each.ends_on)) for each in long],
    )


@dataclass
class TodayRow:
    """A class of today: what to say about it, and its one step ("screening", "again", "open", "roster" or "log").

    names: whom to measure again, where that is the step; measure: the one that asks for all of them, "" of several.
    """

    class_group: object
    starts_at: dt.time
    student_count: int
    words: str
    step: str
    screening: Screening | None
    names: str = ""
    measure: str = ""


def today_rows(
    rows: Sequence[ClassToday], term: Term | None, today: dt.date, *, now: dt.datetime
) -> list[TodayRow]:
    """What to say about classes that meet today; a fixed number of queries, however many they are."""
    ids = {row.class_group.pk for row in rows}
    screenings: dict[int, Screening] = {}
    last_on: dict[int, dt.date] = {}
    for screening in Screening.objects.filter(class_group__in=ids).order_by("held_on", "pk"):
        last_on[screening.class_group_id] = screening.held_on
        if screening.is_open:
            screenings[screening.class_group_id] = screening
    enrolled = _enrolled(ids, term, today)
    everyone = {s.pk for students in enrolled.values() for s in students}
    agreed = consented(everyone, Consent.MEASUREMENTS, now)
    found = rests(everyone, now=now)
    asked = {key: [s for s in students if s.pk in agreed] for key, students in enrolled.items()}
    left = to_go(screenings.values(), asked, found, now=now)
    away = from_rising(found)
    resting = {pk for pk in away if found[pk].is_told}
    again = {
        key: {pk: measures for pk, measures in called.items() if pk not in away}
        for key, called in _again(ids, agreed).items()
    }
    begun = ClassLog.objects.filter(Q(entries__isnull=False) | Q(attendance__is_present=True))
    logged = set(begun.filter(class_group__in=ids, held_on=today).values_list("class_group", flat=True))
    made = []
    for row in rows:
        key = row.class_group.pk
        called = _called(asked.get(key, []), again.get(key, {}))
        words, step = _words(
            row, asked.get(key, []), screenings.get(key), left, away, called, last_on.get(key), today,
        )
        words += _resting_words(enrolled.get(key, []), resting)
        if key in logged:
            words += " " + _("The log is begun.")
        made.append(TodayRow(
            row.class_group, row.starts_at, row.student_count, words, step, screenings.get(key),
            names=names_in_a_row(called), measure=_only_measure(again.get(key, {})),
        ))
    return made


def _enrolled(class_ids, term, today) -> dict[int, list[Student]]:
    found: dict[int, list[Student]] = {}
    if term is None:
        return found
    rows = Enrolment.objects.on(today).filter(term=term, class_group__in=class_ids).select_related("student")
    for enrolment in rows.order_by("student__name"):
        found.setdefault(enrolment.class_group_id, []).append(enrolment.student)
    return found


def _again(class_ids, student_ids) -> dict[int, dict[int, set[str]]]:
    """class -> student to measure again -> in which measures."""
    found: dict[int, dict[int, set[str]]] = {}
    rows = Standing.objects.filter(class_group__in=class_ids, student__in=student_ids, measure_again=True)
    for class_id, student_id, measure in rows.values_list("class_group_id", "student_id", "measure__short_name"):
        found.setdefault(class_id, {}).setdefault(student_id, set()).add(measure)
    return found


def _called(students: list[Student], again: dict[int, set[str]]) -> list[str]:
    names = barre_names(students)
    return [names[pk] for pk in again if pk in names]


def _only_measure(again: dict[int, set[str]]) -> str:
    asking = set().union(*again.values())
    return capfirst(_(asking.pop())) if len(asking) == 1 else ""


def _words(row, students, screening, left, away, called, last_on, today) -> tuple[str, str]:
    if not row.student_count:
        return _("Nobody is enrolled yet."), "roster"
    if not students:
        return _("No family has agreed to measurements yet."), "roster"
    if screening is not None:
        open_ones = who_is_left(left[screening.pk])
        done = [s for s in students if s.pk not in open_ones and s.pk not in away]
        return _("%(name)s: %(done)s done, %(left)s.") % {
            "name": screening, "done": len(done), "left": to_go_words(len(open_ones)),
        }, "screening"
    if called:
        return ngettext(
            "Measure %(names)s again: two more results may settle it.",
            "Measure %(names)s again: two more results each may settle it.", len(called),
        ) % {"names": names_in_a_row(called)}, "again"
    if last_on is None:
        return _("No results yet. The first screening starts the lines."), "open"
    told = {"day": date_format(last_on, "MONTH_DAY_FORMAT")}
    if today - last_on >= MEASURE_AFTER:
        return _("Last measured on %(day)s.") % told, "open"
    return _("Last measured on %(day)s. Nobody to measure again.") % told, "log"


def _resting_words(students: list[Student], resting: set[int]) -> str:
    names = barre_names(students)
    called = [names[s.pk] for s in students if s.pk in resting]
    if not called:
        return ""
    return " " + _("No rises for now: %(names)s.") % {"names": names_in_a_row(called)}

