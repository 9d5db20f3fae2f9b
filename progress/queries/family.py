"""Reads what a family may be told of its child, as far as its consent goes; the words are made elsewhere."""
import dataclasses
import datetime as dt
from dataclasses import dataclass

from django.utils.translation import get_language, gettext_noop, pgettext
from django.utils.translation import gettext as _

from progress.drawing import charts
from progress.drawing.parts import Chart, ChartSide
from progress.judging.judgement import Line
from progress.judging.line_record import read_line
from progress.models import Standing
from progress.queries.charts import KINDS, StrandFacts, describe_chart
from progress.queries.family_pain import family_pain, loads_nothing, measured_next
from progress.queries.finished_terms import is_over
from progress.queries.growth import growth_of
from progress.queries.student import as_of_day, days_of, measuring_days, strand_facts, student_standings
from progress.words.family import FamilyFacts, FamilyWords, Strand, family_words
from progress.words.family_pain import NO_PAIN
from progress.words.speech import voice_for
from screening.models import Measure
from studio.family.models import Consent
from studio.family.queries import ScopeState, agreed_scopes
from studio.models import Student, Term, User
from studio.templatetags.wording import full_day

# What studios that write English call a term (common practice, no source).
SEASONS = {
    gettext_noop("spring"), gettext_noop("summer"), gettext_noop("autumn"), gettext_noop("fall"),
    gettext_noop("winter"),
}


def consent_words(state: ScopeState) -> str:
    """What a family reads of one scope: who gave it or took it back, and when."""
    if state.last is None:
        return _("nothing on record yet") if state.is_agreed else _("not given")
    words = _("given by %(name)s on %(day)s") if state.is_agreed else _("taken back by %(name)s on %(day)s")
    return words % {"name": state.last.said_by, "day": full_day(state.last.at)}


@dataclass(frozen=True)
class FamilyPage:
    """The words, the drawing of the first counted measure (with arrows where a result is "at least"), whom to ask.

    line: what that drawing was made of, for paper; agreed: what the family agreed to.
    """

    words: FamilyWords
    chart: str
    line: Chart | None
    chart_name: str
    has_arrows: bool
    write_to: str
    agreed: frozenset[str]


def family_page(student: Student, term: Term | None, *, at: dt.datetime, today: dt.date) -> FamilyPage | None:
    """Everything on the page of one child at that instant, in the active language; None where there is no term."""
    if term is None:
        return None
    agreed = agreed_scopes(student, at)
    standings = student_standings(student, term, now=at) if Consent.MEASUREMENTS in agreed else []
    strands = _strands_of_term(student, standings, term) if Consent.MEASUREMENTS in agreed else []
    as_of = min(as_of_day(strands, standings) or today, term.ends_on)
    teacher = _teacher(student, term)
    facts = dataclasses.replace(
        _facts(student, term, strands, standings, agreed, as_of, teacher),
        pain=family_pain(student, today=today, now=at) if Consent.PAIN in agreed else NO_PAIN,
        may_exercise=not loads_nothing(student, now=at),
        # A letter of a term that is over says the same whatever is fixed since.
        measured_next=None if is_over(term, now=at) else measured_next(student, today=today),
    )
    counted = next((s for s in strands if s.measure.kind != Measure.GRADE and _is_drawn(s)), None)
    chart = only_her_line(describe_chart(counted, term, as_of=as_of)) if counted else None
    return FamilyPage(
        words=family_words(facts, voice=voice_for(term)),
        chart=charts.svg(chart, size="family", voice=voice_for(term)) if chart else "", line=chart,
        chart_name=_(counted.measure.family_name or counted.measure.name) if counted else "",
        has_arrows=bool(chart) and any(point.capped for side in chart.sides for point in side.points),
        write_to=teacher.email if teacher else "", agreed=agreed,
    )


def _strands_of_term(student: Student, standings: list[Standing], term: Term) -> list[StrandFacts]:
    """What was measured this term. Pain is told in words or not at all, so no chart of a family has it."""
    known = strand_facts(student, standings, frozenset({Consent.MEASUREMENTS}))
    if standings and standings[0].as_of <= term.ends_on:
        known = [facts.as_it_ended(term) for facts in known]
    return [
        facts for facts in known if any(term.starts_on <= score.on <= term.ends_on for score in facts.scores)
    ]


def _is_drawn(facts: StrandFacts) -> bool:
    return any(line.verdict != "too_early" for line in facts.lines.values())


def _facts(student, term: Term, strands, standings, agreed, as_of: dt.date, teacher: User | None) -> FamilyFacts:
    logged = _attendance(student, term, as_of)
    days = None if logged else days_of(student, standings, term, as_of)
    came, held = logged or (measuring_days(student, standings, days) if days else (0, 0))
    return FamilyFacts(
        called=student.first_name, term=term_in_a_sentence(term), teacher=teacher.name if teacher else "", as_of=as_of,
        term_starts_on=term.starts_on, term_ends_on=term.ends_on, days_held=held, days_came=came, is_log=bool(logged),
        strands=tuple(_strand(facts, standings, term) for facts in strands),
        has_grown=Consent.MEASUREMENTS in agreed and _has_grown(student, as_of),
        tells_measures=Consent.MEASUREMENTS in agreed,
    )


def _attendance(student: Student, term: Term, as_of: dt.date) -> tuple[int, int] | None:
    """(classes to which the child came, classes whose log says so or not) in the term; None where no log does."""
    rows = student.attendance.in_force().filter(log__held_on__gte=term.starts_on, log__held_on__lte=as_of)
    said = list(rows.filter(is_present__isnull=False).values_list("is_present", flat=True))
    return (sum(said), len(said)) if said else None


def _strand(facts: StrandFacts, standings: list[Standing], term: Term) -> Strand:
    measure = facts.measure
    in_term = [score for score in facts.scores if term.starts_on <= score.on <= term.ends_on]
    latest = max(in_term, key=lambda score: (score.on, score.result_id))
    lines: list[Line] = [read_line(s.line) for s in standings if s.measure_id == measure.pk]
    name = _(measure.family_name or measure.name)
    return Strand(
        name=name, practice=_(measure.practice) if measure.practice else name, kind=KINDS[measure.kind],
        unit=_(measure.unit) if measure.kind == Measure.SECONDS else "", typical_error=measure.typical_error or 0.0,
        first_on=min(score.on for score in in_term if score.protocol_id == latest.protocol_id), lines=tuple(lines),
    )


def term_in_a_sentence(term: Term) -> str:
    """ "spring term" of "Spring term 2026"; only English writes it small, other languages have their own season."""
    words = [word for word in term.name.split() if not (word.isdecimal() and len(word) == 4)] or [term.name]
    text = " ".join(words)
    if (get_language() or "").startswith("en"):
        return text if text[1:2].isupper() else text[:1].lower() + text[1:]
    season = text.lower().removesuffix(" term")
    return _(season) if season in SEASONS else text


def term_on_paper(term: Term) -> str:
    """ "Autumn term 2026" as the studio wrote it; other languages say their own season: "Herbst 2026"."""
    said, years = term_in_a_sentence(term), [word for word in term.name.split() if word.isdecimal() and len(word) == 4]
    if (get_language() or "").startswith("en") or said in term.name:
        return term.name
    return " ".join([said, *years])


def _teacher(student: Student, term: Term) -> User | None:
    """The first teacher by name of the child's class in the term, for the family's questions."""
    classes = student.enrolments.filter(term=term).order_by("-joined_on", "-pk").values("class_group")[:1]
    return User.objects.filter(class_groups__in=classes, is_active=True).order_by("name").first()


def _has_grown(student: Student, as_of: dt.date) -> bool:
    grown = growth_of(student, as_of=as_of)
    return grown is not None and grown.cm_a_year > grown.error


def only_her_line(chart: Chart) -> Chart:
    """The chart without target, verdict, pain and names of the staff: results as they count now, and their line."""
    since = chart.breaks[-1].on if chart.breaks else chart.starts_on
    name = pgettext("drawing", "%(measure)s over the term") % {"measure": chart.title}
    return dataclasses.replace(
        chart, sides=tuple(_only_hers(side, since) for side in chart.sides), target=None, events=(), caps=(), breaks=(),
        sentence=name, bad_day_words="", held_back_words="",
    )


def _only_hers(side: ChartSide, since: dt.date) -> ChartSide:
    present = side.knots[-1].protocol if side.knots else None
    return dataclasses.replace(
        side, end=None, level_since=None, knots=tuple(knot for knot in side.knots if knot.protocol == present),
        points=tuple(
            dataclasses.replace(point, words="", bad_day=False)
            for point in side.points if point.on >= since and not point.held_back
        ),
    )
