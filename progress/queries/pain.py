"""Reads pain for its pages: a report in words, why it asks for a health professional, and what may answer it."""
from collections.abc import Iterable

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.models import FollowUp, PainAnswer, PainReport
from progress.rules import feet, pain


def as_report(row: PainReport) -> pain.Report:
    return pain.Report(tuple(row.places), row.feels, row.intensity, row.stopped, row.reported_on, row.since)


def was_mistake(report: PainReport) -> bool:
    answer = report.answer
    return answer is not None and answer.kind == PainAnswer.MISTAKE


def referral_of(reports: Iterable[PainReport]) -> str:
    """Why a health professional should see what these reports tell; mistaken ones tell nothing."""
    return pain.referral(as_report(row) for row in reports if not was_mistake(row))


def referral_of_follow_up(follow_up: FollowUp) -> str:
    """The same for a follow-up; "" for one that is not about pain."""
    return referral_of(follow_up.pain_reports.all()) if follow_up.is_about_pain else ""


def referral_so_far(report: PainReport) -> str:
    """Why a health professional should see this report, given what was reported of the same place before it."""
    now = as_report(report)
    earlier = PainReport.objects.meant().filter(student=report.student_id, reported_on__lt=report.reported_on)
    return pain.referral([now, *pain.comes_back(now, [as_report(row) for row in earlier])])


def referral_words(reason: str) -> str:
    """Why a health professional should see it, as a clause behind "because"."""
    return {
        "": "", pain.SEEN_TODAY: _("there was a sign for a doctor on the same day"),
        pain.CAME_BACK: _("it has hurt in two classes"), pain.LASTS: _("it has lasted over 7 days"),
    }[reason]


def feels_word(key: str) -> str:
    return _(dict(pain.FEELS).get(key, key))


def report_words(report: PainReport) -> str:
    """ "Sharp, pin-point, left Achilles, 6 of 10" from one report."""
    parts = [feels_word(report.feels)]
    if report.places:
        parts.append(feet.place_words(report.places, gettext=_))
    if report.intensity is not None:
        parts.append(_("%(n)s of 10") % {"n": report.intensity})
    return capfirst(", ".join(parts))


def effect_words(report: PainReport) -> str:
    """ "since 1 to 3 days; stopped this exercise": what was asked beside place and feel; "" where nothing was."""
    parts = []
    if report.since:
        words = _(dict(pain.SINCE)[report.since])
        parts.append(_("since %(when)s") % {"when": words} if report.since == "today" else
                     _("for %(time)s") % {"time": words})
    if report.stopped:
        parts.append(_("it stopped: %(what)s") % {"what": _(dict(pain.STOPPED)[report.stopped])})
    return "; ".join(parts)


def answer_words(answer: PainAnswer) -> str:
    """ "Seen and cleared by a clinician: Dr Vane on 3 March; allowed: full class. No swelling." """
    text = answer.get_kind_display()
    if answer.kind == PainAnswer.CLINICIAN:
        text += ": " + _("%(name)s; allowed: %(what)s") % {"name": answer.said_by, "what": answer.allowed}
    return f"{text}. {answer.note}"
