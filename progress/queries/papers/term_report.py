"""Reads what the record of a student and term is made of; draws and prints nothing."""
import datetime as dt

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from progress.judging.judgement import Knot, Line
from progress.queries.classwork.practised import practised_lines
from progress.queries.papers.record import Row, Strand, StudentRecord
from progress.queries.student import SideReason, StrandView, StudentView, student_view
from progress.rules.resting import may_do
from progress.words.speech import side_word, verdict_word, voice_for, write_level, write_level_with_unit, write_pace
from screening.models import Measure, Protocol
from studio.models import ClassGroup, Consent, Student, Studio, Term
from studio.templatetags.wording import day, full_day


def student_record(
    student: Student, term: Term, *, studio: Studio, classes: QuerySet[ClassGroup], now: dt.datetime
) -> StudentRecord:
    """The record of a term as it is known now, whatever day it is read on.

    `classes`: those the reader reaches; only one of them is named.
    """
    view = student_view(student, term, classes=classes, today=term.ends_on, now=now)
    return StudentRecord(
        studio=studio.name, student=student.name, where=_where(view, term), now=_now(view), pain=_pain(view, term),
        is_hurt=view.rest is not None or any(line.needs_answer for line in view.pain),
        tells_pain=Consent.PAIN in view.agreed, tells_measures=Consent.MEASUREMENTS in view.agreed,
        spoken=view.spoken, as_of=view.as_of,
        rows=tuple(_row(strand, reason, term) for strand in view.strands for reason in strand.reasons),
        strands=tuple(Strand(str(strand.measure), _protocol(strand), strand.chart) for strand in view.strands),
        practised=_practised(student, term, view), follow_ups=_follow_ups(view, term),
        how_to_read=_how_to_read(), foot=_("%(student)s, %(term)s") % {"student": student.name, "term": term.name},
    )


def _now(view: StudentView) -> str:
    """ "Now: seated work and barre on flat feet only, since 3 March." """
    if view.rest is None:
        return ""
    return _("Now: %(what)s, since %(day)s.") % {
        "what": may_do(view.rest.allows, voice_for(None)), "day": day(view.rest.since)}


def _where(view: StudentView, term: Term) -> str:
    """ "Pre-pointe A with Ottoline Brack. Spring term, 5 January to 4 April 2026. As of 24 March 2026, week 12." """
    words = []
    if view.enrolment is not None:
        group = view.enrolment.class_group
        teachers = [teacher.name for teacher in group.teachers.all()]
        with_her = _("%(class)s with %(teacher)s") % {"class": group.name, "teacher": teachers[0]} if teachers else ""
        words.append(with_her or group.name)
    words.append(_("%(term)s, %(first)s to %(last)s") % {
        "term": term.name, "first": day(term.starts_on), "last": full_day(term.ends_on)})
    if view.as_of is not None:
        week = term.week_on(view.as_of)
        words.append(
            _("As of %(day)s, week %(week)s of %(weeks)s") % {
                "day": full_day(view.as_of), "week": week, "weeks": term.week_count}
            if week else _("As of %(day)s") % {"day": full_day(view.as_of)}
        )
    return " ".join(f"{part}." for part in words)


def _protocol(strand: StrandView) -> str:
    words = strand.protocol.short_name
    if strand.counted_since is None:
        return words
    return _("%(protocol)s, counted since %(day)s") % {"protocol": words, "day": day(strand.counted_since)}


def _row(strand: StrandView, reason: SideReason, term: Term) -> Row:
    """What a student rests from has its values, and neither pace nor verdict: nothing of it is praised or judged."""
    measure, protocol, line = strand.measure, strand.protocol, reason.line
    first = None if line.verdict == "too_early" else _first_knot(line, term)
    return Row(
        measure=str(measure), side=line.side, side_word=side_word(line.side).capitalize(),
        first=_level(first.level, measure, protocol) if first else "", first_on=first.on if first else None,
        now=_level(line.level, measure, protocol), likely=likely_words(line, measure, protocol),
        rate="" if line.verdict == "too_early" or reason.rests else write_pace(line),
        verdict="" if reason.rests else line.verdict,
        verdict_word=_("resting") if reason.rests else verdict_word(line.verdict),
        had=line.results_in_protocol, needed=line.results_in_protocol + line.results_missing,
    )


def _first_knot(line: Line, term: Term) -> Knot | None:
    """Where the line that is counted now begins in this term: after the last break of its protocol."""
    knots = [knot for knot in line.knots if term.starts_on <= knot.on <= term.ends_on and not knot.stale]
    return next((knot for knot in knots if knot.protocol == knots[-1].protocol), None)


def _level(level: float | None, measure: Measure, protocol: Protocol) -> str:
    return write_level_with_unit(level, measure, protocol)


def likely_words(line: Line, measure: Measure, protocol: Protocol | None) -> str:
    """ "16 to 20": where the level of a line lies in 8 of 10 cases; "" where nothing can be said yet."""
    if line.level is None or line.verdict == "too_early":
        return ""
    low, high = (_level(limit, measure, protocol) for limit in (line.level_low80, line.level_high80))
    if low == high:
        return low
    if measure.kind == Measure.SECONDS:
        low = write_level(line.level_low80, measure)
    return _("%(low)s to %(high)s") % {"low": low, "high": high}


def _practised(student: Student, term: Term, view: StudentView) -> tuple[str, ...]:
    if Consent.MEASUREMENTS not in view.agreed:
        return ()
    return practised_lines(student, term, as_of=min(view.as_of or term.ends_on, term.ends_on))


def _pain(view: StudentView, term: Term) -> tuple[str, ...]:
    said = []
    for line in view.pain:
        on = line.report.reported_on
        if on <= term.ends_on and (on >= term.starts_on or line.needs_answer):
            answer = line.answer
            words = f"{day(on)}: {line.words}."
            if answer is not None:
                words += f" {answer.get_kind_display().capitalize()}, {day(answer.received_at)}: {answer.note}"
            elif line.needs_answer:
                words += " " + _("Not answered yet.")
            said.append(words)
    return tuple(said)


def _follow_ups(view: StudentView, term: Term) -> tuple[str, ...]:
    """What is open; of a term that is over, what was open on its last day, under the name of who sees to it today."""
    said = []
    for row in view.follow_ups:
        follow_up = row.follow_up
        if view.has_ended:
            was_open = follow_up.is_open or follow_up.closed_on > term.ends_on
            if follow_up.opened_on <= term.ends_on and was_open:
                said.append(_("Open when the term ended: %(why)s") % {"why": row.why})
        elif follow_up.is_open:
            acts = follow_up.acts.name if follow_up.acts else _("nobody named")
            said.append(_("Open: %(why)s %(acts)s, by %(day)s.") % {
                "why": row.why, "acts": acts, "day": day(follow_up.due_on)})
    return tuple(said)


def _how_to_read() -> tuple[str, str]:
    return (
        _(
            "Each student is compared with their own line only. Left is drawn open, right filled. The shaded band "
            "shows where most single results fall (8 of 10), so one change smaller than the band may be nothing. "
            "The bracket shows where the real level most likely lies. A new way of counting starts a new line."
        ),
        _(
            "These tests describe strength and control. They do not say whether a child is ready for pointe, and "
            "they do not predict injury. The teacher decides with the parents, and with a health professional "
            "where there is doubt. “Stalled” is a prompt to look at the programme, not a grade of effort."
        ),
    )
