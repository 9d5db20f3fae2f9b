"""Reads pain for its pages: a report in words, why it asks for a health professional, and what may answer it."""
import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.models import FollowUp, PainAnswer, PainReport, ReturnStep, StricterPainRule
from progress.queries.resting import steps_of
from progress.rules import feet, pain, pain_returns
from screening.models import Measure, Result, Screening
from studio.models import Student
from studio.queries import next_class_day
from studio.templatetags.wording import day as write_day


def as_report(row: PainReport) -> pain.Report:
    """A stored report as the rules take it; of its matter's end `earlier_reports` knows more."""
    return pain.Report(
        tuple(row.places), tuple(row.feels), row.intensity, row.stopped, row.reported_on, row.since, tuple(row.signs),
        row.note, tuple(row.not_meant), asked=row.asks,
    )


# So long ago a count was kept, at most, that a pain told now cut short: the studio's own rule.
CUT_SHORT = dt.timedelta(minutes=10)


def cut_short(
    student: Student, screening: Screening | None, measure: Measure | None, at: dt.datetime
) -> Result | None:
    """The newest count that stands of this student, measure and screening, if it was kept within minutes before."""
    if screening is None or measure is None:
        return None
    standing = Result.objects.in_force().filter(student=student, screening=screening, measure=measure)
    lately = standing.filter(value__isnull=False, tapped_at__gte=at - CUT_SHORT)
    return lately.order_by("tapped_at", "pk").last()


def stricter_rule() -> pain.Stricter:
    """What the owner made stricter, or nothing."""
    row = StricterPainRule.objects.last()
    return pain.Stricter(row.doctor_from, frozenset(row.doctor_places)) if row else pain.USUAL


def told_before(student: Student, report: pain.Report, *, than: PainReport | None = None) -> list[
    tuple[PainReport, pain.Report]
]:
    """What was told before this report and goes with it: of the same part of the body, on the same day or near
    enough to have come back. `than`: the report itself, where it is kept already."""
    rows = student.pain_reports.meant().filter(reported_on__lte=report.on)
    rows = rows.filter(pk__lt=than.pk) if than else rows
    step = steps_of([student.pk]).get(student.pk)
    found = [(row, _remembered(row, step, report.on)) for row in rows.prefetch_related("follow_ups", "answers")]
    return [(row, before) for row, before in found if pain_returns.goes_with(report, before)]


def _remembered(row: PainReport, step: ReturnStep | None, on: dt.date) -> pain.Report:
    """With when its matter was closed: while the student comes back in steps it is not closed yet."""
    followed = [f for f in row.follow_ups.all() if f.kind != FollowUp.PAIN_WATCHED]
    closed = max((f.closed_on for f in followed if f.closed_on), default=_answered_on(row))
    if closed is not None and step is not None and step.on >= closed:
        closed = step.on if step.is_full_class else on
    is_open = any(f.is_open for f in row.follow_ups.all())
    return replace(as_report(row), settled_on=closed, was_followed=bool(followed), is_open=is_open)


def was_mistake(report: PainReport) -> bool:
    answer = report.answer
    return answer is not None and answer.kind == PainAnswer.MISTAKE


def referral_of(reports: Iterable[PainReport]) -> str:
    """Why a health professional should see what these reports tell; mistaken ones tell nothing."""
    return pain_returns.referral(as_report(row) for row in reports if not was_mistake(row))


def referral_of_follow_up(follow_up: FollowUp) -> str:
    """The same for a follow-up; "" for one that is not about pain."""
    if not follow_up.is_about_pain:
        return ""
    # What it gathered is one story, however long the way back took between.
    is_one_story = follow_up.kind != FollowUp.PAIN_WATCHED
    return pain_returns.referral(
        replace(as_report(row), settled_on=_answered_on(row), was_followed=is_one_story, is_open=is_one_story)
        for row in follow_up.pain_reports.all() if not was_mistake(row)
    )


def _answered_on(row: PainReport) -> dt.date | None:
    return timezone.localdate(row.answer.received_at) if row.answer else None


def settles_from(follow_up: FollowUp) -> dt.date | None:
    """The first day on which the teacher may settle it; None where nothing that was meant waits."""
    waiting = [r.reported_on for r in follow_up.pain_reports.all() if r.answer is None]
    if not waiting:
        return None
    classes = follow_up.student.enrolments.filter(left_on__isnull=True).values_list("class_group", flat=True)
    return pain_returns.settles_from(max(waiting), next_class_day(classes, after=max(waiting)))


def referral_so_far(report: PainReport) -> str:
    """Why a health professional should see this report, given what was reported of the same place before it."""
    now = as_report(report)
    return pain_returns.referral([now, *(before for _row, before in told_before(report.student, now, than=report))])


def referral_words(reason: str) -> str:
    """Why a health professional should see it, as a clause behind "because"."""
    return {
        "": "", pain.SEEN_TODAY: _("there was a sign for a doctor on the same day"),
        pain.CAME_BACK: _("it has come back"), pain.LASTS: _("it has lasted over 7 days"),
        pain.BONE: _("it is sharp in one spot, or hurts in rest"),
        pain.GROWING: _("both heels or both shins hurt while the child grows"),
    }[reason]


def feels_word(key: str) -> str:
    return _(dict(pain.FEELS).get(key, key))


def report_words(report: PainReport) -> str:
    """ "Sharp, pin-point, left Achilles, 6 of 10" from one report."""
    told = as_report(report)
    parts = [feels_word(key) for key, _words in pain.FEELS if key in told.all_feels]
    if report.places:
        parts.append(feet.place_words(report.places, gettext=_))
    if report.intensity is not None:
        parts.append(_("%(n)s of 10") % {"n": report.intensity})
    parts += [_(words) for key, words in (*pain.SIGNS, *pain.WORD_SIGNS) if key in told.all_signs]
    return capfirst(", ".join(parts))


def short_words(report: PainReport) -> str:
    """ "left Achilles, sharp, pin-point, 6 of 10" from one report, the place first; it may be all words of signs."""
    told = as_report(report)
    parts = [feet.place_words(report.places, gettext=_)] if report.places else []
    parts += [feels_word(key) for key, _words in pain.FEELS if key in told.all_feels]
    if report.intensity is not None:
        parts.append(_("%(n)s of 10") % {"n": report.intensity})
    text = ", ".join(parts) or report_words(report)
    return text if report.places else text[:1].lower() + text[1:]


def effect_words(report: PainReport) -> str:
    """ "since 1 to 3 days; stopped this exercise": what was asked beside place and feel; "" where nothing was."""
    parts = []
    if report.since:
        words = _(dict(pain.SINCE)[report.since])
        parts.append(_("since %(when)s") % {"when": words} if report.since == "today" else
                     _("for %(time)s") % {"time": words})
    if report.stopped:
        parts.append(_("could go on: %(what)s") % {"what": _(dict(pain.STOPPED)[report.stopped])})
    return "; ".join(parts)


def answer_words(answer: PainAnswer) -> str:
    """ "Seen and cleared by a clinician: Dr Vane on 3 March; allowed: full class. No swelling." """
    text = answer.get_kind_display()
    if answer.kind == PainAnswer.CLINICIAN:
        text += ": " + _("%(name)s on %(day)s; allowed: %(what)s") % {
            "name": answer.said_by, "day": write_day(answer.said_on), "what": answer.allowed}
        if answer.until_on:
            text += "; " + _("until %(day)s") % {"day": write_day(answer.until_on)}
        if answer.see_again_on:
            text += "; " + _("to be seen again on %(day)s") % {"day": write_day(answer.see_again_on)}
    return f"{text}. {answer.note}"
