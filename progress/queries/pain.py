"""Reads pain for its pages: a report in words, why it asks for a health professional, and what may answer it."""
import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.models import FollowUp, PainAnswer, PainReport, StricterPainRule
from progress.queries.resting import steps_of
from progress.rules import feet, pain, pain_returns
from studio.models import Student


def as_report(row: PainReport) -> pain.Report:
    """A stored report as the rules take it; of its matter's end `earlier_reports` knows more."""
    return pain.Report(
        tuple(row.places), tuple(row.feels), row.intensity, row.stopped, row.reported_on, row.since, tuple(row.signs),
        row.note, tuple(row.not_meant),
    )


def stricter_rule() -> pain.Stricter:
    """What the owner made stricter, or nothing."""
    row = StricterPainRule.objects.last()
    return pain.Stricter(row.doctor_from, frozenset(row.doctor_places)) if row else pain.USUAL


def earlier_reports(student: Student, before: dt.date) -> list[tuple[PainReport, pain.Report]]:
    """Her reports of earlier days, each with when its matter was closed: whoever still comes back in steps has not
    closed it yet."""
    rows = student.pain_reports.meant().filter(reported_on__lt=before).prefetch_related("follow_ups", "answers")
    step = steps_of([student.pk]).get(student.pk)
    return [(row, _remembered(row, step, before)) for row in rows]


def _remembered(row: PainReport, step, before: dt.date) -> pain.Report:
    followed = [f for f in row.follow_ups.all() if f.kind != FollowUp.PAIN_WATCHED]
    closed = max((f.closed_on for f in followed if f.closed_on), default=None)
    if closed is not None and step is not None and step.on >= closed:
        closed = step.on if step.is_full_class else before
    return replace(as_report(row), settled_on=closed, was_followed=bool(followed))


def was_mistake(report: PainReport) -> bool:
    answer = report.answer
    return answer is not None and answer.kind == PainAnswer.MISTAKE


def referral_of(reports: Iterable[PainReport]) -> str:
    """Why a health professional should see what these reports tell; mistaken ones tell nothing."""
    return pain_returns.referral(as_report(row) for row in reports if not was_mistake(row))


def referral_of_follow_up(follow_up: FollowUp) -> str:
    """The same for a follow-up; "" for one that is not about pain."""
    return referral_of(follow_up.pain_reports.all()) if follow_up.is_about_pain else ""


def referral_so_far(report: PainReport) -> str:
    """Why a health professional should see this report, given what was reported of the same place before it."""
    now = as_report(report)
    earlier = [before for _row, before in earlier_reports(report.student, report.reported_on)]
    return pain_returns.referral([now, *pain_returns.comes_back(now, earlier)])


def referral_words(reason: str) -> str:
    """Why a health professional should see it, as a clause behind "because"."""
    return {
        "": "", pain.SEEN_TODAY: _("there was a sign for a doctor on the same day"),
        pain.CAME_BACK: _("it has come back"), pain.LASTS: _("it has lasted over 7 days"),
        pain.GROWING: _("both heels or both shins hurt while the child grows"),
    }[reason]


def feels_word(key: str) -> str:
    return _(dict(pain.FEELS).get(key, key))


def report_words(report: PainReport) -> str:
    """ "Sharp, pin-point, left Achilles, 6 of 10" from one report."""
    parts = [feels_word(each) for each in report.feels]
    if report.places:
        parts.append(feet.place_words(report.places, gettext=_))
    if report.intensity is not None:
        parts.append(_("%(n)s of 10") % {"n": report.intensity})
    parts += [_(dict(pain.SIGNS)[each]) for each in report.signs]
    return capfirst(", ".join(parts))


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
        text += ": " + _("%(name)s; allowed: %(what)s") % {"name": answer.said_by, "what": answer.allowed}
    return f"{text}. {answer.note}"
