"""Reads a student's term for its one line: the first measure with results, and what was worked on, dose by dose."""
import datetime as dt
from collections import defaultdict
from itertools import groupby

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.drawing.term_line import Bar, Span, term_line
from progress.models import ExerciseVersion, ProgrammeEntry
from progress.queries.charts import describe_chart
from progress.queries.classwork.exercises import dose_words, versions_by_exercise
from progress.queries.resting import rests
from progress.queries.student import as_of_day, strand_facts, student_standings
from progress.rules.resting import Rest
from progress.words.speech import voice_for
from studio.models import Consent, Student, Term

MOST_BARS = 6


def line_of_term(student: Student, term: Term | None, agreed: frozenset[str], *, now: dt.datetime) -> str:
    """The drawing, or "" where nothing was measured in this term or may be shown."""
    if term is None or Consent.MEASUREMENTS not in agreed:
        return ""
    standings = student_standings(student, term, now=now)
    facts = [
        each for each in strand_facts(student, standings, agreed)
        if any(term.starts_on <= score.on <= term.ends_on for score in each.scores)
    ]
    as_of = as_of_day(facts, standings)
    if not facts or as_of is None or as_of < term.starts_on:
        return ""
    rest = rests([student.pk], now=now).get(student.pk) if Consent.PAIN in agreed else None
    bars = _bars(student, term, min(as_of, term.ends_on), rest)
    more = len(bars) - MOST_BARS
    return term_line(
        describe_chart(facts[0], term, as_of=as_of), bars[:MOST_BARS], name=str(facts[0].measure).lower(),
        more=ngettext("and %(n)s exercise more", "and %(n)s exercises more", more) % {"n": more} if more > 0 else "",
        voice=voice_for(term),
    )


def _bars(student: Student, term: Term, as_of: dt.date, rest: Rest | None) -> list[Bar]:
    groups = student.enrolments.filter(term=term).values_list("class_group", flat=True)
    rows = ProgrammeEntry.objects.filter(term=term, class_group__in=list(groups)).select_related("exercise")
    by_exercise = defaultdict(list)
    for row in rows.order_by("position", "pk"):
        if row.student_id in (None, student.pk):
            by_exercise[row.exercise_id].append(row)
    versions, found, is_said = versions_by_exercise(), [], False
    for key, entries in by_exercise.items():
        version = versions[key]
        paused = rest.since if rest is not None and version.is_rested_from(rest) else None
        spans = _spans(entries, version, term, min(as_of, paused - dt.timedelta(days=1)) if paused else as_of)
        if not spans:
            continue
        words = _("paused since %(day)s") % {"day": voice_for(term).day(paused)} if paused and not is_said else ""
        is_said = is_said or bool(words)
        found.append(Bar(version.name, spans, paused, words))
    return found


def _spans(entries: list[ProgrammeEntry], version: ExerciseVersion, term: Term, until: dt.date) -> tuple[Span, ...]:
    """Day by day the dose in force, the student's own before the class's; long holidays leave a gap."""
    off = [(h.starts_on, h.ends_on) for h in term.holidays.all() if (h.ends_on - h.starts_on).days >= 4]  # noqa: PLR2004
    days = [term.starts_on + dt.timedelta(days=n) for n in range(max(0, (until - term.starts_on).days + 1))]
    spans = []
    for words, run in groupby(days, key=lambda day: _dose_on(entries, version, day, off)):
        inside = list(run)
        if words:
            spans.append(Span(inside[0], inside[-1], words))
    return tuple(spans)


def _dose_on(entries: list[ProgrammeEntry], version: ExerciseVersion, day: dt.date, off) -> str:
    if any(first <= day <= last for first, last in off):
        return ""
    here = [e for e in entries if e.added_on <= day and (e.left_out_at is None or day < e.left_out_at.date())]
    own = [entry for entry in here if entry.student_id is not None]
    entry = (own or here or [None])[-1]
    return "" if entry is None or entry.is_spared else dose_words(entry.dose, version)
