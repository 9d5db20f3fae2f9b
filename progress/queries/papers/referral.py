"""Reads what a clinician is told on one page: what was reported, what was measured, what was done; no diagnosis."""
import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil
from typing import TypeVar

from django.db.models import Prefetch
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.models import FollowUp, FollowUpNote, HomeTold, PainAnswer, PainReport, ReturnStep
from progress.queries.pain import (
    answer_words,
    as_report,
    effect_words,
    feels_word,
    referral_of,
    referral_of_follow_up,
    referral_words,
)
from progress.queries.papers.referral_figures import Measured, grown_words, load_words, measured_around, pointe_words
from progress.queries.resting import rests
from progress.rules import feet, pain, pain_returns
from progress.rules.resting import Rest, may_do
from progress.words.speech import voice_for
from screening.models import Measure
from studio.models import Consent, Enrolment, Student
from studio.templatetags.wording import day

# What is told in full reaches back so far: about a term. Studio's own rule.
TOLD = dt.timedelta(weeks=13)
# So many lines of so many letters fit one page of Letter beside the drawing; the newest are told, and how many more.
REPORT_LINES, EARLIER_LINES, DONE_LINES = (9, 52), (3, 105), (5, 90)
T = TypeVar("T")
# What a physician asks and a teacher can tap: (key, heading). Walking is told by two of them.
_ASKED = ("limps", "no_weight", "swollen", "night", "snap", "gives_way", "unwell")


@dataclass(frozen=True)
class ToldReport:
    """One report. by: who wrote it down; where: in which measure, at which count; tapped: which of `asked_words`,
    in their order; of the others nobody said so, or nobody was asked."""

    on: dt.date
    by: str
    words: str
    effect: str
    where: str
    note: str
    tapped: tuple[bool, ...]


@dataclass(frozen=True)
class ReferralNote:
    """One page. `places`: every region that hurts; `why`: clauses, or ""; `done`: (day, words, by); newest first.

    reports: what nobody has cleared yet, else those of the last 13 weeks; earlier: (day, words) of what hurt before
    and how it ended; more_...: how many of each are not on the page; now: what the student may do; measured: before
    and at the time; load, about: sentences. Not tells_pain: nobody agreed to pain notes, so none is on this paper,
    which is not the same as none.
    """

    student: Student
    age: int | None
    enrolment: Enrolment | None
    about: tuple[str, ...]
    reports: tuple[ToldReport, ...]
    more_reports: int
    earlier: tuple[tuple[dt.date, str], ...]
    more_earlier: int
    places: tuple[str, ...]
    why: str
    now: str
    done: tuple[tuple[dt.date, str, str], ...]
    measured: tuple[Measured, ...]
    load: str
    tells_pain: bool
    tells_measures: bool


def referral_note(student: Student, *, agreed: frozenset[str], today: dt.date, now: dt.datetime) -> ReferralNote:
    """The page, as far as the family agreed to what stands on it."""
    rows = _reports_of(student) if Consent.PAIN in agreed else []
    told = _told_in_full(rows, today)
    reports, more = _fitting([_told(row) for row in told], REPORT_LINES, _length)
    earlier, more_earlier = _fitting(_earlier(rows, told, today), EARLIER_LINES, lambda each: len(each[1]) + 20)
    measures = Consent.MEASUREMENTS in agreed
    first_on = min((row.reported_on for row in told), default=None)
    enrolment = (
        student.enrolments.filter(left_on__isnull=True).select_related("class_group").order_by("-joined_on").first()
    )
    grown = grown_words(student, today) if measures else ""
    done, _more = _fitting(_done(student, rows, today), DONE_LINES, lambda each: len(each[1]))
    return ReferralNote(
        student=student, age=student.age_on(today), enrolment=enrolment,
        about=tuple(filter(None, (pointe_words(student), grown))), reports=reports, more_reports=more,
        earlier=earlier, more_earlier=more_earlier,
        places=tuple(dict.fromkeys(place for row in told for place in row.places)),
        why=_why(student, told) if rows else "", now=_now(rests([student.pk], now=now).get(student.pk)),
        done=done if Consent.PAIN in agreed else (),
        measured=measured_around(student, first_on, [row.measure_id for row in told], today) if measures else (),
        load=load_words(student, today) if measures else "", tells_pain=Consent.PAIN in agreed,
        tells_measures=measures,
    )


def asked_words() -> tuple[str, ...]:
    """The heads of what can be tapped beside where and how much, as narrow as they can be."""
    return tuple(
        {
            "limps": _("limps"), "no_weight": _("no weight on it"), "swollen": _("swollen, hot"),
            "night": _("wakes at night"), "snap": _("a snap"), "gives_way": _("gives way, locks"),
            "unwell": _("fever, unwell"),
        }[key] for key in _ASKED
    )


def _reports_of(student: Student) -> list[PainReport]:
    """All that were meant, the newest first."""
    answers = Prefetch("answers", PainAnswer.objects.select_related("by"))
    rows = student.pain_reports.meant().select_related(
        "measure", "screening__class_group", "reported_by", "stopped_result"
    )
    return list(rows.prefetch_related("follow_ups", answers))


def _told_in_full(rows: list[PainReport], today: dt.date) -> list[PainReport]:
    """What nobody has answered, and what belongs to it; where all is answered, what hurt lately."""
    waiting = [row for row in rows if row.answer is None and row.follow_ups.all()]
    if waiting:
        return waiting
    return [row for row in rows if row.reported_on >= today - TOLD]


def _earlier(rows: list[PainReport], told: list[PainReport], today: dt.date) -> list[tuple[dt.date, str]]:
    """Earlier pain of the same part of the body, however long ago, and anything else of late; with how it ended."""
    now = [as_report(row) for row in told]
    found = [
        row for row in rows if row not in told
        and (row.reported_on >= today - TOLD or any(pain_returns.is_same_matter(each, as_report(row)) for each in now))
    ]
    return [(row.reported_on, f"{_what(row)}. {_ended(row)}") for row in found]


def _what(row: PainReport) -> str:
    """ "Sharp, pin-point, left Achilles, 6 of 10": most signs stand in columns of their own."""
    parts = [feels_word(each) for each in row.feels if each not in ("limps", "swollen")]
    parts += [feet.place_words(row.places, gettext=_)] if row.places else []
    parts += [_("%(n)s of 10") % {"n": row.intensity}] if row.intensity is not None else []
    signs = as_report(row).all_signs
    parts += [_(words) for key, words in pain.SIGNS if key in signs and key not in _ASKED]
    return capfirst(", ".join(parts)) or _("Told in words only")


def _ended(row: PainReport) -> str:
    answer = row.answer
    if answer is None:
        return _("Nobody closed it.")
    how = capfirst(answer.get_kind_display())
    if answer.kind == PainAnswer.CLINICIAN:
        return _("%(how)s, %(name)s, on %(day)s; allowed: %(what)s.") % {
            "how": how, "name": answer.said_by, "day": day(answer.said_on), "what": answer.allowed}
    return _("%(how)s on %(day)s.") % {"how": how, "day": day(timezone.localdate(answer.received_at))}


def _told(row: PainReport) -> ToldReport:
    tapped = {*row.feels, *as_report(row).all_signs}
    return ToldReport(
        row.reported_on, row.reported_by.name, _what(row), effect_words(row), _where(row), row.note,
        tuple(key in tapped for key in _ASKED),
    )


def _where(row: PainReport) -> str:
    """ "in rises, stopped at count 5, Pre-pointe A"."""
    where = [_("in %(measure)s") % {"measure": _(row.measure.short_name)}] if row.measure else []
    if row.at_count is not None:
        in_seconds = row.measure is not None and row.measure.kind == Measure.SECONDS
        at = _("stopped at second %(n)s") if in_seconds else _("stopped at count %(n)s")
        where.append(at % {"n": row.at_count})
    return ", ".join([*where, *([row.screening.class_group.name] if row.screening else [])])


def _length(report: ToldReport) -> int:
    return sum(len(part) + 3 for part in (report.words, report.effect, report.where, report.note))


def _fitting(rows: Sequence[T], room: tuple[int, int], length: Callable[[T], int]) -> tuple[tuple[T, ...], int]:
    """(as many from the first as fit into so many lines of so many letters, how many do not); at least the first."""
    lines, width = room
    shown, used = [], 0
    for row in rows:
        used += max(1, ceil(length(row) / width))
        if shown and used > lines:
            break
        shown.append(row)
    return tuple(shown), len(rows) - len(shown)


def _why(student: Student, told: list[PainReport]) -> str:
    """Why it should be seen: what its open follow-ups say, that it has come back first of all."""
    open_now = student.follow_ups.filter(kind__in=FollowUp.ABOUT_PAIN, closed_at__isnull=True)
    reasons = {referral_of_follow_up(row) for row in open_now.prefetch_related("pain_reports__answers")}
    reasons.add(referral_of(row for row in told if row.answer is None))
    came_back = FollowUpNote.objects.filter(follow_up__in=open_now, kind=FollowUpNote.CAME_BACK)
    if came_back.exists():
        reasons.add(pain.CAME_BACK)
    order = (pain.SEEN_TODAY, pain.CAME_BACK, pain.LASTS, pain.GROWING)
    return "; ".join(referral_words(reason) for reason in order if reason in reasons)


def _now(rest: Rest | None) -> str:
    """ "Now: everything but rises and jumps, since 3 March, until a clinician has cleared it." """
    if rest is None or not rest.is_told:
        return ""
    text = _("Now in class: %(what)s, since %(day)s") % {
        "what": may_do(rest.allows, voice_for(None)), "day": day(rest.since)}
    if not rest.is_pain:
        text += f" ({rest.words})"
    return f"{text}; {_('allowed: %(what)s') % {'what': rest.said}}." if rest.said else f"{text}."


def _done(student: Student, rows: list[PainReport], today: dt.date) -> list[tuple[dt.date, str, str]]:
    """Answers, notes of the follow-ups, what came back, who was told at home, and steps, each once."""
    recent = [row for row in rows if row.reported_on >= today - TOLD]
    found = {
        (answer.received_at, capfirst(answer_words(answer)), answer.by.name)
        for row in recent for answer in row.answers.all()
    }
    kinds = (FollowUpNote.NOTE, FollowUpNote.CAME_BACK)
    notes = FollowUpNote.objects.filter(follow_up__pain_reports__in=rows, kind__in=kinds).distinct()
    found |= {(n.at, n.text, n.by.name if n.by else "") for n in notes.select_related("by")}
    for told in HomeTold.objects.filter(report__in=recent).select_related("by"):
        words = _("Home, %(way)s: %(who)s") % {"way": told.get_way_display(), "who": told.who}
        found.add((told.at, f"{words}. {told.note}" if told.note else words, told.by.name))
    steps = ReturnStep.objects.filter(student=student, on__gte=today - TOLD).select_related("by", "ladder")
    found |= {(s.at, f"{s.get_kind_display().capitalize()}: {_(s.words)}", s.by.name) for s in steps}
    latest: dict[tuple[str, str], dt.datetime] = {}
    for at, words, by in sorted(found):
        latest[words, by] = at
    return [
        (timezone.localdate(at), *said)
        for said, at in sorted(latest.items(), key=lambda each: (each[1], each[0]), reverse=True)
    ]
