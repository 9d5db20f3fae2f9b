"""Reads what is missing before the term ends, for the owner's desk: a row each with whom, and where it is done."""
import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.judging.line_record import read_line
from progress.models import Exercise, FollowUp, IssuedReport, RunSheet, Standing
from progress.words.speech import names_in_a_row, side_word
from screening.models import Measure, Result
from screening.queries import agreed_results
from screening.wording import write_value
from studio.entrance.keys import Tablet
from studio.family.queries import RECORDED, consented
from studio.models import Consent, Enrolment, GuardianKey, Student, Term
from studio.queries import people_in_words

# Reports are asked about in the last weeks of a term; before that they are not missing.
REPORTS_ASKED = dt.timedelta(weeks=3)
MOST_NAMED = 3


@dataclass(frozen=True)
class DeskRow:
    """One thing that is missing. `part` of the whole, 0 to 1, where there is a whole; `students`: who is named."""

    name: str
    count: str
    part: float | None
    words: str
    link: str
    link_words: str
    students: tuple[int, ...] = ()
    is_button: bool = False

    @property
    def bar(self) -> int | None:
        """Px of the bar that is full, of 260."""
        return None if self.part is None else round(260 * self.part)


def desk_rows(term: Term | None, *, today: dt.date, now: dt.datetime) -> tuple[DeskRow, ...]:
    """What is not complete yet in this term, in the order in which it is done; nothing where all is."""
    orphans = _orphans(today)
    if term is None:
        return tuple(filter(None, (orphans,)))
    enrolled = Enrolment.objects.on(today).filter(term=term).select_related("student", "class_group")
    places = {each.student_id: each for each in enrolled.order_by("student__name", "pk")}
    if not places:
        return tuple(filter(None, (orphans,)))
    rows = (orphans, _measured(term, places, now), _agreed(places), _to_confirm(places), _reports(term, places, today))
    return tuple(row for row in rows if row is not None)


def missing_words(term: Term | None, rows: Sequence[DeskRow]) -> str:
    """How much is missing, beside the name of the office."""
    if term is None:
        return _("No term runs today.")
    if not rows:
        return _("Nothing is missing.")
    words = ngettext(
        "%(n)s thing is missing before the term ends", "%(n)s things are missing before the term ends", len(rows)
    )
    return words % {"n": len(rows)}


def _orphans(today: dt.date) -> DeskRow | None:
    """Open follow-ups on which somebody should act who may no longer log in: nobody sees them under *mine*."""
    waiting = FollowUp.objects.filter(closed_at__isnull=True, acts__is_active=False)
    rows = list(waiting.order_by("acts__name").values_list("acts__name", "due_on"))
    names = list(dict.fromkeys(name for name, _due_on in rows))
    if not names:
        return None
    late = sum(due_on <= today for _name, due_on in rows)
    words = ngettext("%(names)s may not log in", "%(names)s may not log in", len(names))
    words %= {"names": names_in_a_row(names)}
    if late:
        words += ", " + ngettext("%(n)s of them is due", "%(n)s of them are due", late) % {"n": late}
    return DeskRow(
        _("Follow-ups to hand over"), str(len(rows)), None, words, reverse("progress:follow-ups"),
        _("Hand them over"),
    )


def _measured(term: Term, places: dict[int, Enrolment], now: dt.datetime) -> DeskRow | None:
    rows = Result.objects.in_force().filter(
        student__in=places, value__isnull=False, taken_on__gte=term.starts_on, taken_on__lte=term.ends_on
    )
    done = set(agreed_results(rows, now=now).values_list("student", flat=True))
    missing = [place for pk, place in places.items() if pk not in done]
    if not missing:
        return None
    words = ngettext("%(names)s is missing", "%(names)s are missing", len(missing))
    return DeskRow(
        _("Measured this term"), *_of(len(done), len(places)), words % {"names": _named(missing)},
        reverse("progress:class-sheet", args=[missing[0].class_group_id]), _("Who is missing"), _keys(missing),
    )


def _agreed(places: dict[int, Enrolment]) -> DeskRow | None:
    """Who was never asked about what the studio itself records: a yes and a no are both an answer."""
    answers = Consent.objects.filter(student__in=places, scope__in=RECORDED).values_list("student", "scope")
    asked = {pk: {scope for student, scope in answers if student == pk} for pk in places}
    missing = [place for pk, place in places.items() if not asked[pk] >= RECORDED]
    if not missing:
        return None
    return DeskRow(
        _("Consent on file"), *_of(len(places) - len(missing), len(places)),
        _("No answer yet: %(names)s") % {"names": _named(missing)},
        reverse("studio:consent-forms", args=[missing[0].class_group_id]), _("Print the form"), _keys(missing),
    )


def _to_confirm(places: dict[int, Enrolment]) -> DeskRow | None:
    standings = Standing.objects.filter(student__in=places)
    keys = {key for line in standings.values_list("line", flat=True) for key in read_line(line).held_back}
    held = Result.objects.filter(pk__in=keys).select_related("student", "measure", "protocol")
    rows = list(held.order_by("taken_on", "pk"))
    if not rows:
        return None
    first = rows[0]
    words = _("%(name)s, %(foot)s%(value)s on %(day)s") % {
        "name": first.student.name, "value": write_value(first.value, first.measure, first.protocol),
        "foot": _("%(side)s foot, ") % {"side": side_word(first.side)} if first.side else "",
        "day": date_format(first.taken_on, "MONTH_DAY_FORMAT"),
    }
    if len(rows) > 1:
        more = len(rows) - 1
        words += " " + ngettext("and %(n)s more", "and %(n)s more", more) % {"n": more}
    link = reverse("progress:results", args=[first.student_id]) + f"?measure={first.measure.key}"
    students = tuple({row.student_id for row in rows})
    return DeskRow(_("Results to confirm"), str(len(rows)), None, words, link, _("Confirm or correct"), students)


def _reports(term: Term, places: dict[int, Enrolment], today: dt.date) -> DeskRow | None:
    if today < term.ends_on - REPORTS_ASKED:
        return None
    printed = RunSheet.objects.filter(
        run__term=term, run__kind=IssuedReport.RECORD, state=RunSheet.PRINTED,
        student__in=places,
    )
    done = printed.values("student").distinct().count()
    if done >= len(places):
        return None
    return DeskRow(
        _("Term reports"), *_of(done, len(places)),
        _("Due by %(day)s.") % {"day": date_format(term.ends_on, "l, j F")},
        reverse("progress:reports"), _("Make the reports"), is_button=True,
    )


def _of(done: int, whole: int) -> tuple[str, float]:
    return _("%(done)s of %(whole)s") % {"done": done, "whole": whole}, done / whole


def _named(places: list[Enrolment]) -> str:
    """Up to three names, then how many more."""
    names = [place.student.name for place in places[:MOST_NAMED]]
    if len(places) > MOST_NAMED:
        more = len(places) - MOST_NAMED
        names.append(ngettext("%(n)s more", "%(n)s more", more) % {"n": more})
    return names_in_a_row(names)


def _keys(places: Iterable[Enrolment]) -> tuple[int, ...]:
    return tuple(place.student_id for place in list(places)[:MOST_NAMED])


@dataclass(frozen=True)
class Doors:
    """What stands under the heads of the office's doors: how much there is behind them, in words."""

    classes: str
    students: str
    people: str
    measures: str


def doors(*, terms: int, classes: int, people: int, term: Term | None, today: dt.date, now: dt.datetime) -> Doors:
    """terms, classes, people: how many of each the page has read already."""
    keys = set(Student.objects.filter(is_nameless=False).values_list("pk", flat=True))
    agreed = len(consented(keys, Consent.MEASUREMENTS, now))
    cards = GuardianKey.objects.filter(ended_at__isnull=True, valid_until__gte=today).count()
    tablets = Tablet.objects.filter(revoked_at__isnull=True).count()
    measures, exercises = Measure.objects.count(), Exercise.objects.filter(is_offered=True).count()
    return Doors(
        classes=_("%(terms)s, %(classes)s, times and holidays.") % {
            "terms": ngettext("%(n)s term", "%(n)s terms", terms) % {"n": terms},
            "classes": ngettext("%(n)s class", "%(n)s classes", classes) % {"n": classes},
        },
        students=_("%(students)s; %(consents)s, %(cards)s.") % {
            "students": people_in_words(term, today),
            "consents": ngettext("%(n)s consent", "%(n)s consents", agreed) % {"n": agreed},
            "cards": ngettext("%(n)s family card", "%(n)s family cards", cards) % {"n": cards},
        },
        people=_("%(people)s, %(tablets)s.") % {
            "people": ngettext("%(n)s person", "%(n)s people", people) % {"n": people},
            "tablets": ngettext("%(n)s tablet", "%(n)s tablets", tablets) % {"n": tablets},
        },
        measures=_("%(measures)s, %(exercises)s, targets by stage.") % {
            "measures": ngettext("%(n)s measure", "%(n)s measures", measures) % {"n": measures},
            "exercises": ngettext("%(n)s exercise", "%(n)s exercises", exercises) % {"n": exercises},
        },
    )
