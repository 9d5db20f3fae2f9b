"""Reads a student's page: the sentence, her strands with charts and reasons, pain, follow-ups, all in a few queries."""
import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from progress import verdict
from progress.chart_parts import Chart
from progress.judgement import Line
from progress.line_record import read_line
from progress.models import FollowUp, PainAnswer, PainReport, Standing
from progress.queries.charts import StrandFacts, describe_chart
from progress.queries.follow_ups import FollowUpRow, follow_up_rows, report_words
from progress.speech import voice_for, write_level
from screening.models import Measure, Protocol, Result
from screening.queries import judged_measures, scores, targets_by_stage
from screening.wording import write_value
from studio.models import Enrolment, Student, Term, User


@dataclass(frozen=True)
class SideReason:
    """One side's sentence, with its verdict. `held_back`: results that wait to be confirmed, as (result, words)."""

    side: str
    line: Line
    word: str
    reason: str


@dataclass(frozen=True)
class HeldBack:
    result: Result
    words: str


@dataclass(frozen=True)
class StrandView:
    measure: Measure
    protocol: Protocol
    counted_since: dt.date | None
    reasons: tuple[SideReason, ...]
    gap_words: str
    results: int
    chart: Chart | None
    held_back: tuple[HeldBack, ...]


@dataclass(frozen=True)
class PainLine:
    report: PainReport
    words: str
    answer: PainAnswer | None
    needs_answer: bool


@dataclass(frozen=True)
class StudentView:
    spoken: str
    strands: tuple[StrandView, ...]
    as_of: dt.date | None
    enrolment: Enrolment | None
    pain: tuple[PainLine, ...]
    follow_ups: tuple[FollowUpRow, ...]
    other_scores: tuple[tuple[Measure, str, str], ...]
    is_resting: bool


def student_lines(student: Student) -> dict[tuple[int, str], Line]:
    return {(s.measure_id, s.side): read_line(s.line) for s in Standing.objects.filter(student=student)}


def strand_facts(student: Student) -> list[StrandFacts]:
    """What each judged measure with results is made of, in the catalogue's order."""
    measures = judged_measures()
    by_measure = defaultdict(list)
    for score in scores(Result.objects.filter(student=student, measure__in=measures)):
        by_measure[score.measure_id].append(score)
    lines = student_lines(student)
    protocols: dict[int, dict[int, Protocol]] = defaultdict(dict)
    for protocol in Protocol.objects.all():
        protocols[protocol.measure_id][protocol.pk] = protocol
    targets = targets_by_stage()
    reports = list(student.pain_reports.exclude(answer__kind=PainAnswer.MISTAKE).select_related("measure"))
    people = dict(User.objects.values_list("pk", "name"))
    return [
        StrandFacts(
            student=student, measure=m, protocols=protocols[m.pk], scores=by_measure[m.pk],
            lines={side: lines[m.pk, side] for side in m.sides if (m.pk, side) in lines},
            target=targets.get((m.pk, student.stage_id)), pain=reports, assessors=people,
        )
        for m in measures
        if by_measure[m.pk]
    ]


def as_of_day(student: Student, facts: list[StrandFacts]) -> dt.date | None:
    """The day the judgement knows about: the last measuring day of her class, else her own last result."""
    standing = Standing.objects.filter(student=student).order_by("-as_of").first()
    return standing.as_of if standing else max((s.on for f in facts for s in f.scores), default=None)


def student_view(student: Student, term: Term | None, *, today: dt.date) -> StudentView:
    facts = strand_facts(student)
    as_of = as_of_day(student, facts)
    voice = voice_for(term)
    names = {f.measure.key: f.measure.short_name for f in facts}
    lines = [line for f in facts for line in f.lines.values()]
    enrolments = student.enrolments.filter(left_on__isnull=True).select_related("class_group", "term")
    enrolment = enrolments.prefetch_related(Prefetch("class_group__teachers", User.objects.order_by("name"))).first()
    reports = list(
        student.pain_reports.select_related("answer", "answer__answered_by", "measure", "reported_by")
        .prefetch_related("follow_ups")
    )
    follow_ups = follow_up_rows(FollowUp.objects.filter(student=student), term=term, today=today)
    return StudentView(
        spoken=verdict.spoken(lines, voice=voice, names=names) if lines else "",
        strands=tuple(_strand(f, term, as_of, voice) for f in facts),
        as_of=as_of, enrolment=enrolment,
        pain=tuple(_pain_line(report) for report in reports),
        follow_ups=tuple(follow_ups),
        other_scores=_other_scores(student),
        is_resting=any(r.asks in ("stop", "doctor_today") and getattr(r, "answer", None) is None for r in reports),
    )


def _pain_line(report: PainReport) -> PainLine:
    answer = getattr(report, "answer", None)
    return PainLine(report, report_words(report), answer, answer is None and bool(report.follow_ups.all()))


def _strand(facts: StrandFacts, term: Term | None, as_of: dt.date, voice) -> StrandView:
    measure = facts.measure
    current = max(facts.protocols.values(), key=lambda p: p.version)
    of_current = [s.on for s in facts.scores if s.protocol_id == current.pk]
    units = {measure.key: _(measure.unit)}
    reasons = tuple(
        SideReason(side, line, {"L": _("Left"), "R": _("Right"), "": ""}[side],
                   verdict.reason(line, voice=voice, units=units))
        for side, line in facts.lines.items()
    )
    held = {key for line in facts.lines.values() for key in line.held_back}
    chart = describe_chart(facts, term, as_of=as_of) if term is not None and as_of >= term.starts_on else None
    return StrandView(
        measure=measure, protocol=current,
        counted_since=min(of_current) if current.version > 1 and of_current else None,
        reasons=reasons, gap_words=_gap_words(facts), results=len(facts.scores), chart=chart,
        held_back=tuple(_held_back(held, measure, voice)),
    )


def _held_back(keys: set[int], measure: Measure, voice) -> list[HeldBack]:
    rows = Result.objects.filter(pk__in=keys).select_related("protocol") if keys else []
    return [
        HeldBack(row, _("%(value)s, entered on %(day)s, is far from her line. Confirm or correct it.") % {
            "value": write_value(row.value, measure, row.protocol), "day": voice.day(row.taken_on)})
        for row in rows
    ]


def _gap_words(facts: StrandFacts) -> str:
    line = facts.lines.get("L")
    gap = line.gap if line else None
    if gap is None or not gap.is_apart:
        return ""
    words = {"difference": write_level(abs(gap.right_minus_left), facts.measure), "unit": _(facts.measure.unit)}
    if gap.right_minus_left > 0:
        return _("The right foot is ahead by about %(difference)s %(unit)s, more than wobble.") % words
    return _("The left foot is ahead by about %(difference)s %(unit)s, more than wobble.") % words


def _other_scores(student: Student) -> tuple[tuple[Measure, str, str], ...]:
    """The latest score of each measure that is described but not judged: (measure, side, words)."""
    judged = {m.pk for m in judged_measures()}
    latest: dict[tuple[int, str], Result] = {}
    rows = Result.objects.standing().filter(student=student, value__isnull=False).exclude(measure__in=judged)
    for row in rows.select_related("measure", "protocol").order_by("taken_on", "pk"):
        latest[row.measure_id, row.side] = row
    return tuple(
        (row.measure, row.side, write_value(row.value, row.measure, row.protocol, capped=row.reached_cap))
        for row in sorted(latest.values(), key=lambda r: (r.measure.position, r.side))
    )

