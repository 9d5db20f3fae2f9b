"""Reads what a clinician is told on one page: what was reported, what was measured, what was done; no diagnosis."""
import datetime as dt
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from progress.drawing.parts import Chart
from progress.models import FollowUpNote, PainAnswer, PainReport, ReturnStep
from progress.queries.charts import describe_chart
from progress.queries.classwork.load import load_lines, student_load
from progress.queries.pain import answer_words, effect_words, referral_of, referral_words, report_words
from progress.queries.resting import rests
from progress.queries.student import as_of_day, strand_facts, student_standings
from progress.rules.resting import Rest
from screening.models import Measure
from studio.models import Consent, Enrolment, Student, Term

# What is told reaches back so far: about a term. Studio's own rule.
TOLD = dt.timedelta(weeks=13)
# So many fit one page beside the drawing and the charts; the newest ones are told, and how many more there were.
REPORTS_SHOWN, DONE_SHOWN = 4, 5
# With more lines than this on the page, its one large chart leaves no room for the small ones.
LINES_BESIDE_CHARTS = 6


@dataclass(frozen=True)
class ToldReport:
    on: dt.date
    words: str
    effect: str
    where: str
    note: str


@dataclass(frozen=True)
class ReferralNote:
    """One page. `places`: every region that hurt; `why`: a clause, or ""; `done`: (day, words, by); newest first.

    Not tells_pain: nobody agreed to pain notes, so none is on this paper, which is not the same as none.
    """

    student: Student
    age: int | None
    enrolment: Enrolment | None
    reports: tuple[ToldReport, ...]
    earlier: int
    places: tuple[str, ...]
    why: str
    rest: Rest | None
    done: tuple[tuple[dt.date, str, str], ...]
    charts: tuple[tuple[Measure, str, Chart], ...]
    term: Term | None
    load: tuple[str, ...]
    tells_pain: bool


def referral_note(
    student: Student, term: Term | None, *, agreed: frozenset[str], today: dt.date
) -> ReferralNote:
    """The page, as far as the family agreed to what stands on it."""
    told = student.pain_reports.meant() if Consent.PAIN in agreed else PainReport.objects.none()
    rows = list(
        told.filter(reported_on__gte=today - TOLD)
        .select_related("measure", "screening__class_group")
        .prefetch_related(Prefetch("answers", PainAnswer.objects.select_related("answered_by")))
    )
    enrolment = (
        student.enrolments.filter(left_on__isnull=True).select_related("class_group").order_by("-joined_on").first()
    )
    done = _done(student, rows, today) if Consent.PAIN in agreed else ()
    load = load_lines(student_load(student, term, today=today)) if Consent.MEASUREMENTS in agreed else ()
    lines = len(rows[:REPORTS_SHOWN]) + len(done) + len(load)
    return ReferralNote(
        student=student, age=student.age_on(today), enrolment=enrolment,
        reports=tuple(_told(row) for row in rows[:REPORTS_SHOWN]), earlier=max(0, len(rows) - REPORTS_SHOWN),
        places=tuple(dict.fromkeys(place for row in rows for place in row.places)),
        why=referral_words(referral_of(row for row in rows if row.answer is None)),
        rest=rests([student.pk]).get(student.pk), done=done, term=term, load=load,
        tells_pain=Consent.PAIN in agreed,
        charts=_charts(student, term, agreed, at_most=3 if lines <= LINES_BESIDE_CHARTS else 1),
    )


def _told(row: PainReport) -> ToldReport:
    where = [_("in %(measure)s") % {"measure": _(row.measure.short_name)}] if row.measure else []
    where += [row.screening.class_group.name] if row.screening else []
    return ToldReport(row.reported_on, report_words(row), effect_words(row), ", ".join(where), row.note)


def _done(student: Student, rows: list[PainReport], today: dt.date) -> tuple[tuple[dt.date, str, str], ...]:
    """Answers, notes of the follow-ups and steps, each once."""
    found = {
        (answer.answered_at.date(), answer_words(answer), answer.answered_by.name)
        for row in rows for answer in row.answers.all()
    }
    notes = FollowUpNote.objects.filter(follow_up__pain_reports__in=rows, kind=FollowUpNote.NOTE).distinct()
    found |= {(n.at.date(), n.text, n.by.name if n.by else "") for n in notes.select_related("by")}
    steps = ReturnStep.objects.filter(student=student, on__gte=today - TOLD).select_related("by", "ladder")
    found |= {(s.on, f"{s.get_kind_display().capitalize()}: {_(s.words)}", s.by.name) for s in steps}
    return tuple(sorted(found, reverse=True)[:DONE_SHOWN])


def _charts(
    student: Student, term: Term | None, agreed: frozenset[str], *, at_most: int
) -> tuple[tuple[Measure, str, Chart], ...]:
    standings = student_standings(student)
    facts = strand_facts(student, standings, agreed)
    as_of = as_of_day(facts, standings)
    if term is None or as_of is None or as_of < term.starts_on:
        return ()
    return tuple(
        (f.measure, max(f.protocols.values(), key=lambda p: p.version).short_name, describe_chart(f, term, as_of=as_of))
        for f in facts[:at_most]
    )


