"""Reads the few figures on the note for a clinician: two results, two weeks of load, growth, since when on pointe."""
import datetime as dt
from collections import Counter
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.models import Attendance, ExerciseVersion, LogEntry
from progress.queries.classwork.load import kind_words
from progress.queries.growth import growth_of, pace_words
from progress.rules.dose import Dose
from progress.words.speech import side_word
from screening.models import Measure, Protocol, Result
from screening.queries import Score, scores
from screening.wording import write_value
from studio.models import Student
from studio.templatetags.wording import day, full_day, write_number

# So many measures have a line, those in which it hurt first; what was counted longer ago than this is no "before".
MEASURES_TOLD, BEFORE = 2, dt.timedelta(weeks=13)
LOAD_DAYS = 14
# Stages on which a student wears pointe shoes.
ON_POINTE = ("first-year", "on-pointe")


@dataclass(frozen=True)
class Measured:
    """One measure: what was seen before it hurt, and at the time; each (day, words) or None."""

    name: str
    before: tuple[dt.date, str] | None
    at: tuple[dt.date, str] | None


def measured_around(
    student: Student, first_on: dt.date | None, hurt_in: list[int | None], today: dt.date
) -> tuple[Measured, ...]:
    """The last day before the pain and the first day from it on, for the measures in which it hurt, then others."""
    measures = sorted(Measure.objects.all(), key=lambda m: (m.pk not in hurt_in, m.position))
    protocols = Protocol.objects.in_bulk()
    found = scores(Result.objects.filter(student=student, taken_on__gte=today - 2 * BEFORE), measures=measures)
    told = []
    for measure in (each for each in measures if each.is_judged):
        mine = [score for score in found if score.measure_id == measure.pk]
        before = {score.on for score in mine if first_on is None or first_on - BEFORE <= score.on < first_on}
        since = {score.on for score in mine if first_on is not None and first_on <= score.on <= today}
        if before or since:
            on_day = [_on(mine, max(before), measure, protocols) if before else None,
                      _on(mine, min(since), measure, protocols) if since else None]
            told.append(Measured(str(measure), *on_day))
    return tuple(told[:MEASURES_TOLD])


def _on(mine: list[Score], on: dt.date, measure: Measure, protocols) -> tuple[dt.date, str]:
    """ "left 14, right 15" of one day."""
    of_day = sorted((score for score in mine if score.on == on), key=lambda score: score.side)
    said = [
        f"{side_word(s.side)} {write_value(s.value, measure, protocols[s.protocol_id], capped=s.capped)}".strip()
        for s in of_day
    ]
    return on, ", ".join(said)


def load_words(student: Student, today: dt.date) -> str:
    """ "In the 14 days to 24 March: 3 of 4 classes; 96 rises on two feet. In the 14 days before: ..."; "" without a
    log."""
    last = _load(student, today - dt.timedelta(days=LOAD_DAYS), today)
    before = _load(student, today - dt.timedelta(days=2 * LOAD_DAYS), today - dt.timedelta(days=LOAD_DAYS))
    if not last and not before:
        return ""
    nothing = _("no class was logged")
    return _("In the %(n)s days to %(day)s: %(last)s. In the %(n)s days before: %(before)s.") % {
        "n": LOAD_DAYS, "day": day(today), "last": last or nothing, "before": before or nothing}


def _load(student: Student, after: dt.date, until: dt.date) -> str:
    within = {"log__held_on__gt": after, "log__held_on__lte": until}
    came = list(
        Attendance.objects.in_force().filter(student=student, is_present__isnull=False, **within)
        .values_list("is_present", flat=True)
    )
    if not came:
        return ""
    rows = LogEntry.objects.in_force().filter(student=student, is_withdrawn=False, **within)
    done: Counter[str] = Counter()
    for kind, sets, reps in rows.exclude(version__counts_as="").values_list("version__counts_as", "sets", "reps"):
        done[kind] += Dose(sets, reps).repetitions
    said = [ngettext("%(came)s of %(held)s class", "%(came)s of %(held)s classes", len(came)) % {
        "came": sum(came), "held": len(came)}]
    said += [f"{write_number(done[kind])} {kind_words(kind)}" for kind, _words in ExerciseVersion.LOADS if done[kind]]
    return "; ".join(said)


def grown_words(student: Student, today: dt.date) -> str:
    """What the heights say; of a single one only itself."""
    grown = growth_of(student, as_of=today)
    if grown is not None:
        return pace_words(grown)
    last = student.heights.saying().order_by("measured_on", "pk").last()
    if last is None or last.height_cm is None:
        return ""
    return _("Height %(cm)s cm on %(day)s.") % {"cm": write_number(last.height_cm, 1), "day": day(last.measured_on)}


def pointe_words(student: Student) -> str:
    """Since when the student is on pointe, by the stages that were written down."""
    if student.stage is None or student.stage.key not in ON_POINTE:
        return ""
    since = None
    for change in student.stage_changes.select_related("stage").order_by("on", "pk"):
        if change.stage.key not in ON_POINTE:
            since = None
        elif since is None:
            since = change.on
    if since is None:
        return _("On pointe, since when is not written down.")
    return _("On pointe since %(day)s.") % {"day": full_day(since)}
