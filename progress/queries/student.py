"""Reads a student's page: the sentence, the strands with charts and reasons, pain, follow-ups, all in a few queries."""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.drawing.parts import Chart
from progress.judging.judgement import Line
from progress.judging.line_record import read_line
from progress.models import FollowUp, PainAnswer, PainReport, Standing, TermStanding
from progress.queries import agreed_follow_ups
from progress.queries.charts import StrandFacts, band_note, describe_chart, rest_since_words
from progress.queries.classwork.load import came_to_classes
from progress.queries.finished_terms import is_over, kept_standings
from progress.queries.follow_ups import FollowUpRow, follow_up_rows
from progress.queries.growth import circumstance, gentle_note, pace_words, readings
from progress.queries.judged import counted
from progress.queries.pain import report_words, was_mistake
from progress.queries.places import PlacesTold, places_told
from progress.queries.resting import from_rising, rests
from progress.queries.student_now import Now, said_aloud, student_now
from progress.rules import growth
from progress.rules.resting import Rest
from progress.words import verdict
from progress.words.speech import verdict_word, voice_for, write_level
from screening.models import Measure, Protocol, Result, Screening
from screening.queries import scores, targets_by_stage
from screening.wording import write_value
from studio.family.queries import RECORDED, agreed_scopes
from studio.models import ClassGroup, Consent, Enrolment, Student, Term, User


@dataclass(frozen=True)
class SideReason:
    """One side's verdict and how sure it is, in a few short paragraphs; `rests`: since when it is left out instead."""

    side: str
    line: Line
    word: str
    verdict_word: str
    rests: bool
    sure: tuple[str, ...]


@dataclass(frozen=True)
class HeldBack:
    result: Result
    words: str


@dataclass(frozen=True)
class Band:
    """The band of one side: what it is in a sentence, whether it is drawn first, the words that ask for it."""

    side: str
    note: str
    is_first: bool
    asks: str


@dataclass(frozen=True)
class StrandView:
    """One measure of a student. `protocol`: that of the latest results; `next_protocol`: a newer one, not used yet."""

    measure: Measure
    protocol: Protocol
    next_protocol: Protocol | None
    counted_since: dt.date | None
    reasons: tuple[SideReason, ...]
    gap_words: str
    results: int
    chart: Chart | None
    bands: tuple[Band, ...]
    held_back: tuple[HeldBack, ...]


@dataclass(frozen=True)
class PainLine:
    report: PainReport
    words: str
    answer: PainAnswer | None
    needs_answer: bool


@dataclass(frozen=True)
class StudentView:
    """The page. `has_ended`: it says what was judged when the term ended.

    withheld: in words, what is not shown because nobody agreed to it.
    """

    spoken: str
    strands: tuple[StrandView, ...]
    as_of: dt.date | None
    is_past: bool
    has_ended: bool
    enrolment: Enrolment | None
    pain: tuple[PainLine, ...]
    places: PlacesTold | None
    follow_ups: tuple[FollowUpRow, ...]
    other_scores: tuple[tuple[Measure, str, str], ...]
    rest: Rest | None
    now: Now | None
    height: growth.Reading | None
    pace: str
    growth_note: str
    agreed: frozenset[str]
    withheld: tuple[str, ...]


def student_standings(student: Student, term: Term | None = None, *, now: dt.datetime) -> list[Standing | TermStanding]:
    """A student's standings, the latest judged first: of a term that is over as they were kept."""
    kept = kept_standings(student, term, now=now)
    return kept or list(Standing.objects.filter(student=student).order_by("-as_of", "pk"))


def strand_facts(student: Student, standings: list[Standing], agreed: frozenset[str]) -> list[StrandFacts]:
    """What each judged measure with results is made of, in the catalogue's order, as far as was agreed."""
    if Consent.MEASUREMENTS not in agreed:
        return []
    reports = list(student.pain_reports.meant().select_related("measure")) if Consent.PAIN in agreed else []
    known = _all_facts(student, standings, reports, readings(student.heights.saying()))
    return [facts for facts in known if facts.measure.is_judged]


def _all_facts(
    student: Student, standings: list[Standing], reports: list[PainReport], heights: list[growth.Reading]
) -> list[StrandFacts]:
    """The same for every measure with results, judged or only described."""
    by_measure, measures = defaultdict(list), list(Measure.objects.all())
    for score in scores(counted(Result.objects.filter(student=student)), measures=measures):
        by_measure[score.measure_id].append(score)
    lines = {(s.measure_id, s.side): read_line(s.line) for s in standings}
    protocols: dict[int, dict[int, Protocol]] = defaultdict(dict)
    for protocol in Protocol.objects.all():
        protocols[protocol.measure_id][protocol.pk] = protocol
    targets = targets_by_stage()
    people = dict(User.objects.values_list("pk", "name"))
    return [
        StrandFacts(
            student=student, measure=m, protocols=protocols[m.pk], scores=by_measure[m.pk],
            lines={side: lines[m.pk, side] for side in m.sides if (m.pk, side) in lines},
            target=targets.get((m.pk, student.stage_id)), pain=reports, assessors=people, heights=heights,
        )
        for m in measures
        if by_measure[m.pk]
    ]


def as_of_day(facts: list[StrandFacts], standings: list[Standing]) -> dt.date | None:
    """The day the judgement knows about: the last measuring day of the class, else the student's own last result."""
    return standings[0].as_of if standings else max((s.on for f in facts for s in f.scores), default=None)


def student_view(
    student: Student, term: Term | None, *, classes: QuerySet[ClassGroup], today: dt.date, now: dt.datetime
) -> StudentView:
    """The page of a student in a term. `classes`: those the reader reaches; only one of them is named.

    A term that is over says what was judged when it ended; where that was never kept, its results and no verdict.
    """
    agreed = agreed_scopes(student, now)
    may_show = Consent.MEASUREMENTS in agreed
    standings = student_standings(student, term, now=now) if may_show else []
    has_ended = is_over(term, now=now) and bool(standings) and standings[0].as_of <= term.ends_on
    reports = _reports(student) if Consent.PAIN in agreed else []
    heights = readings(student.heights.saying()) if may_show else []
    meant = [report for report in reports if not was_mistake(report)]
    known = _all_facts(student, standings, meant, heights) if may_show else []
    told = {student.pk} if Consent.PAIN in agreed else set()
    resting = rests([student.pk], told=told, now=now)
    if has_ended:
        known = [then for each in known if (then := each.as_it_ended(term)).scores]
    facts = [each.while_resting(resting.get(student.pk)) for each in known if each.measure.is_judged]
    as_of = as_of_day(facts, standings)
    grown = growth.latest_growth(heights, as_of=today)
    voice = voice_for(term)
    names = {f.measure.key: _(f.measure.short_name) for f in facts}
    is_past = term is not None and as_of is not None and as_of > term.ends_on
    lines = {} if is_past else {f.measure: list(f.lines.values()) for f in facts if f.lines}
    seldom = _seldom_measured(student, standings, term, as_of)
    follow_ups = follow_up_rows(
        agreed_follow_ups(FollowUp.objects.filter(student=student), at=now), term=term, today=today,
        resting=from_rising(resting), standings=standings if has_ended and today <= term.ends_on else None, now=now,
    )
    return StudentView(
        spoken=said_aloud(lines, resting.get(student.pk), voice=voice, names=names),
        now=None if has_ended else student_now(student, resting.get(student.pk) if told else None, follow_ups),
        strands=tuple(_strand(f, term, as_of, voice, is_past, (seldom, circumstance(grown)), now=now) for f in facts),
        as_of=min(as_of, term.ends_on) if is_past else as_of, is_past=is_past, has_ended=has_ended,
        enrolment=_enrolment(student, term if has_ended else None, classes),
        pain=tuple(_pain_line(report) for report in reports), places=places_told(_of_term(reports, term)),
        follow_ups=tuple(follow_ups),
        other_scores=_other_scores(each for each in known if not each.measure.is_judged),
        rest=resting.get(student.pk) if told else None, height=heights[-1] if heights else None,
        pace=pace_words(grown) if grown else "", growth_note=gentle_note(grown),
        agreed=agreed, withheld=tuple(str(words) for scope, words in Consent.SCOPES if scope in RECORDED - agreed),
    )


def _enrolment(student: Student, term: Term | None, classes: QuerySet[ClassGroup]) -> Enrolment | None:
    """The class that heads the page: of a term that is over, else of those the student is in now."""
    enrolments = student.enrolments.filter(class_group__in=classes)
    enrolments = enrolments.filter(term=term) if term else enrolments.filter(left_on__isnull=True)
    teachers = Prefetch("class_group__teachers", User.objects.order_by("name"))
    return enrolments.select_related("class_group", "term").prefetch_related(teachers).first()


def _reports(student: Student) -> list[PainReport]:
    answers = Prefetch("answers", PainAnswer.objects.select_related("by"))
    return list(
        student.pain_reports.select_related("measure", "reported_by").prefetch_related("follow_ups", answers)
    )


def _of_term(reports: list[PainReport], term: Term | None) -> list[PainReport]:
    return [each for each in reports if term is None or term.starts_on <= each.reported_on <= term.ends_on]


def _pain_line(report: PainReport) -> PainLine:
    answer = report.answer
    return PainLine(report, report_words(report), answer, answer is None and bool(report.follow_ups.all()))


# Measured on fewer than this share of the measuring days, a student's line has less to stand on; said with it.
SELDOM = 0.6
FEWEST_DAYS = 4


def measuring_days(student: Student, standings: list[Standing], days: tuple[dt.date, dt.date]) -> tuple[int, int]:
    """(days on which the student was measured, days on which the class was), from the first to the last of `days`."""
    measured = Result.objects.in_force().filter(screening=OuterRef("pk"), value__isnull=False)
    held = Screening.objects.filter(Exists(measured), class_group=standings[0].class_group_id, held_on__range=days)
    found = list(held.annotate(hers=Exists(measured.filter(student=student))).values_list("held_on", "hers"))
    return len({day for day, is_hers in found if is_hers}), len({day for day, _is_hers in found})


def days_of(
    student: Student, standings: list[Standing], term: Term | None, as_of: dt.date | None
) -> tuple[dt.date, dt.date] | None:
    """From when until when the student was in the term so far; None where nothing is judged or they never were."""
    if term is None or as_of is None or not standings:
        return None
    joined = student.enrolments.filter(term=term).order_by("joined_on").values_list("joined_on", flat=True).first()
    return (max(term.starts_on, joined), min(as_of, term.ends_on)) if joined else None


def _seldom_measured(
    student: Student, standings: list[Standing], term: Term | None, as_of: dt.date | None
) -> str:
    """ "Came to 3 of 9 classes.", or "Measured on 3 of 9 measuring days.", where that is little: a part of the reason.

    The class logs say it where there are any; of a student who came and was not measured the results say so.
    """
    days = days_of(student, standings, term, as_of)
    if days is None:
        return ""
    came, held = came_to_classes(student, standings[0].class_group_id, since=days[0], until=days[1])
    if held >= FEWEST_DAYS and came < SELDOM * held:
        return _("Came to %(came)s of %(held)s classes.") % {"came": came, "held": held}
    came, held = measuring_days(student, standings, days)
    if held < FEWEST_DAYS or came >= SELDOM * held:
        return ""
    return _("Measured on %(came)s of %(held)s measuring days.") % {"came": came, "held": held}


def _strand(
    facts: StrandFacts,
    term: Term | None,
    as_of: dt.date,
    voice,
    is_past: bool,
    told: tuple[str, ...],
    *,
    now: dt.datetime,
) -> StrandView:
    measure = facts.measure
    newest = max(facts.protocols.values(), key=lambda p: p.version)
    latest = max(facts.scores, key=lambda s: (s.on, s.result_id))
    used = facts.protocols[latest.protocol_id]
    counted = [s.on for s in facts.scores if s.protocol_id == used.pk]
    units = {measure.key: _(measure.unit)}
    reasons = tuple(
        SideReason(side, line, {"L": _("Left"), "R": _("Right"), "": ""}[side], verdict_word(line.verdict),
                   facts.rests_since is not None, _sure(facts, line, voice, units, told))
        for side, line in facts.lines.items() if not is_past
    )
    held = {key for line in facts.lines.values() for key in line.held_back}
    chart = describe_chart(facts, term, as_of=as_of) if term is not None and as_of >= term.starts_on else None
    return StrandView(
        measure=measure,
        protocol=used,
        next_protocol=newest if newest.pk != used.pk and not is_over(term, now=now) else None,
        counted_since=min(counted) if len(counted) < len(facts.scores) else None,
        reasons=reasons,
        gap_words="" if is_past else _gap_words(facts),
        results=len(facts.scores),
        chart=chart,
        held_back=tuple(_held_back(held, measure, voice)),
        bands=_bands(chart, measure),
    )


def _bands(chart: Chart | None, measure: Measure) -> tuple[Band, ...]:
    """What there is to say of the bands of a chart, that of the left foot first."""
    asks = {"L": _("Shade the left"), "R": _("Shade the right"), "": ""}
    return tuple(
        Band(each.side, band_note(each.side, measure), each.side == chart.shaded, asks[each.side])
        for each in (chart.sides if chart else ()) if each.knots
    )


def _sure(facts: StrandFacts, line: Line, voice, units, told: tuple[str, ...]) -> tuple[str, ...]:
    """How sure the verdict is; of what is left out for now only since when."""
    if facts.rests_since is not None:
        return (capfirst(rest_since_words(facts.rests_since, voice)) + ".",)
    return verdict.how_sure(line, voice=voice, units=units, circumstances=_circumstances(line, told))


def _circumstances(line: Line, told: tuple[str, ...]) -> tuple[str, ...]:
    """What may explain a line that does not gain: few measuring days, a growth spurt."""
    return tuple(filter(None, told)) if line.verdict in ("stalled", "slipping", "not_clear") else ()


def _held_back(keys: set[int], measure: Measure, voice) -> list[HeldBack]:
    rows = Result.objects.filter(pk__in=keys).select_related("protocol") if keys else []
    return [
        HeldBack(row, _("%(value)s, entered on %(day)s, is far from this line. Confirm or correct it.") % {
            "value": write_value(row.value, measure, row.protocol), "day": voice.day(row.taken_on)})
        for row in rows
    ]


def _gap_words(facts: StrandFacts) -> str:
    line = facts.lines.get("L")
    gap = line.gap if line else None
    if gap is None or not gap.is_apart:
        return ""
    right = facts.lines.get("R")
    if right is None:
        return ""
    words = {
        "right": write_level(right.level, facts.measure), "left": write_level(line.level, facts.measure),
        "unit": _(facts.measure.unit),
    }
    if gap.right_minus_left > 0:
        return _("The right foot is ahead, about %(right)s to about %(left)s %(unit)s: more than wobble.") % words
    return _("The left foot is ahead, about %(left)s to about %(right)s %(unit)s: more than wobble.") % words


def _other_scores(described: Iterable[StrandFacts]) -> tuple[tuple[Measure, str, str], ...]:
    """The latest score of each measure that is described but not judged: (measure, side, words)."""
    told = []
    for facts in described:
        latest = {score.side: score for score in sorted(facts.scores, key=lambda s: (s.on, s.result_id))}
        told += [
            (facts.measure, side, write_value(
                score.value, facts.measure, facts.protocols[score.protocol_id], capped=score.capped))
            for side, score in sorted(latest.items())
        ]
    return tuple(told)
