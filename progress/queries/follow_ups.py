"""Reads the follow-up list: who, why with numbers, since when, who acts, by when, what was done."""
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Max, Prefetch, QuerySet
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.judging.judgement import Line
from progress.judging.line_record import read_line
from progress.models import FollowUp, FollowUpNote, PainAnswer, PainReport, Standing, TermStanding
from progress.queries import resting_students
from progress.queries.pain import as_report, referral_of_follow_up, referral_words, report_words, was_mistake
from progress.queries.telling import home_words
from progress.queries.way_back import clearance_words
from progress.rules import pain
from progress.rules.pain_returns import is_same_matter
from progress.words import verdict
from progress.words.speech import line_state, side_word, voice_for, write_level, write_rate
from screening.models import Measure, Result
from studio.models import Term
from studio.templatetags.wording import day as write_day

# Before everything else: what is to be seen by a doctor on the same day, a knock on the head first.
DOCTOR_TODAY = "doctor_today"
GROUPS = [(DOCTOR_TODAY, gettext_lazy("A doctor today")), *FollowUp.KINDS]
# Whose heading is written in the colour of pain.
RUST = (DOCTOR_TODAY, FollowUp.STOP_SIGN, FollowUp.PAIN_LASTS)
GROUP_ORDER = [kind for kind, _words in GROUPS]


@dataclass
class FollowUpRow:
    """One follow-up as the list shows it. `mark`: a verdict's key, "pain", "apart" or "not_measured"."""

    follow_up: FollowUp
    mark: str
    why: str
    short: str
    since: str
    by: str
    is_due: bool
    days_late: int
    done: list[str] = field(default_factory=list)
    # Open pain only: who at home was told, or that nobody was yet.
    home: str = ""
    is_home_told: bool = True
    group: str = ""
    is_head: bool = False

    @property
    def in_company(self) -> str:
        """What stands on a screen that others can see: of pain only that there is something to see to."""
        return _("please see to this.") if self.follow_up.kind in FollowUp.ABOUT_HEALTH else self.short

    @property
    def by_words(self) -> str:
        """ "today", "by Friday": behind who acts."""
        return self.by if self.is_due and not self.days_late else _("by %(day)s") % {"day": self.by}


@dataclass(frozen=True)
class _Facts:
    """What the rows are told from, fetched once for all of them."""

    lines: dict[tuple[int, int, str], Line]
    resting: set[int]
    last_results: dict[int, dt.date]
    clearances: dict[int, PainAnswer]


def follow_up_rows(
    follow_ups: QuerySet[FollowUp], *, term: Term | None, today: dt.date, resting: set[int] | None = None,
    standings: Iterable[Standing | TermStanding] | None = None, with_home: bool = False, now: dt.datetime,
) -> list[FollowUpRow]:
    """The rows, most urgent kind first, then the earliest due. `resting`: who rests from rising, where it is known;
    `standings`: those to tell from, where they are not those of today; `with_home`: who at home was told, too.
    """
    rows = list(
        follow_ups.select_related("student", "class_group", "measure", "acts", "closed_by").prefetch_related(
            Prefetch("notes", FollowUpNote.objects.select_related("by")),
            Prefetch("pain_reports", PainReport.objects.select_related("measure").prefetch_related(
                "answers", *(["told_home"] if with_home else []))),
        )
    )
    resting = resting_students({row.student_id for row in rows}, now=now) if resting is None else resting
    facts = _Facts(_lines_of(rows, standings), resting, _last_results(rows), _clearances(rows))
    made = [_row(f, facts, term, today) for f in rows]
    if with_home:
        for row in made:
            row.is_home_told, row.home = home_words(waiting_reports(row.follow_up))
    return sorted(made, key=lambda r: (
        GROUP_ORDER.index(r.group), not r.is_head, r.follow_up.due_on, r.follow_up.pk
    ))


def _lines_of(
    rows: Iterable[FollowUp], standings: Iterable[Standing | TermStanding] | None
) -> dict[tuple[int, int, str], Line]:
    judged = [row for row in rows if row.measure_id]
    if standings is None:
        standings = Standing.objects.filter(
            student__in={row.student_id for row in judged}, measure__in={row.measure_id for row in judged}
        )
    return {(s.student_id, s.measure_id, s.side): read_line(s.line) for s in standings}


def _last_results(rows: Iterable[FollowUp]) -> dict[int, dt.date]:
    """The last day with a value of each student who is asked about for having none."""
    ids = {row.student_id for row in rows if row.kind == FollowUp.NOT_MEASURED}
    found = Result.objects.in_force().filter(student__in=ids, value__isnull=False)
    return dict(found.values_list("student_id").annotate(last_on=Max("taken_on"))) if ids else {}


def _clearances(rows: Iterable[FollowUp]) -> dict[int, PainAnswer]:
    """The latest clearance of each student who is to be seen again."""
    ids = {row.student_id for row in rows if row.kind == FollowUp.SEE_AGAIN}
    if not ids:
        return {}
    given = PainAnswer.objects.filter(report__student__in=ids, kind=PainAnswer.CLINICIAN).select_related("report")
    return {answer.report.student_id: answer for answer in given}


def _row(follow_up: FollowUp, facts: _Facts, term: Term | None, today: dt.date) -> FollowUpRow:
    mark, why, since = _why(follow_up, facts, term, today)
    late = (today - follow_up.due_on).days
    # On the first page it stands behind the student's name and a colon.
    short = why.split(": ", 1)[0] if follow_up.kind == FollowUp.NO_GAIN else why
    short += "" if short.endswith((".", "!", "?")) else "."
    short = short[:1].lower() + short[1:]
    asked = pain.most_urgent(report.asks for report in waiting_reports(follow_up))
    return FollowUpRow(
        follow_up, mark, why, short, since, by=_by(follow_up.due_on, today), is_due=late >= 0, days_late=max(late, 0),
        done=[note.text for note in follow_up.notes.all() if note.kind not in NOT_DONE],
        is_head=asked == pain.HEAD, group=DOCTOR_TODAY if asked in pain.SEEN_THE_SAME_DAY else follow_up.kind,
    )


# Who acts, by when, and what it has become: nothing that was done about it.
NOT_DONE = (FollowUpNote.HANDED_OVER, FollowUpNote.MOVED, FollowUpNote.CAME_BACK)


def waiting_reports(follow_up: FollowUp) -> list[PainReport]:
    """The reports of an open follow-up that nobody has answered."""
    if not (follow_up.is_open and follow_up.is_about_pain):
        return []
    return [report for report in follow_up.pain_reports.all() if report.answer is None]


def _by(due_on: dt.date, today: dt.date) -> str:
    days = (due_on - today).days
    if days == 0:
        return _("today")
    if days == 1:
        return _("tomorrow")
    if 1 < days < 7:
        return date_format(due_on, "l")
    return date_format(due_on, "MONTH_DAY_FORMAT")


def _why(follow_up: FollowUp, facts: _Facts, term: Term | None, today: dt.date) -> tuple[str, str, str]:
    voice = voice_for(term)
    if follow_up.is_about_pain:
        return "pain", pain_words(follow_up, facts.resting, today), voice.day(follow_up.opened_on)
    if follow_up.kind == FollowUp.SEE_AGAIN:
        clearance = facts.clearances.get(follow_up.student_id)
        return "pain", clearance_words(clearance) if clearance else "", voice.day(follow_up.opened_on)
    if follow_up.kind == FollowUp.LOOK_AGAIN:
        return "not_measured", _("Look again together at pointe work, as was decided."), voice.day(follow_up.opened_on)
    if follow_up.kind == FollowUp.NOT_MEASURED:
        last_on = facts.last_results.get(follow_up.student_id)
        if last_on is None:
            return "not_measured", _("No result yet."), voice.day(follow_up.opened_on)
        return "not_measured", _("Last measured on %(day)s.") % {"day": voice.day(last_on)}, voice.day(last_on)
    line = facts.lines.get((follow_up.student_id, follow_up.measure_id, follow_up.side or "L"))
    if line is None:
        return "not_measured", _("Its results were taken back."), voice.day(follow_up.opened_on)
    if follow_up.kind == FollowUp.SIDES_APART:
        right = facts.lines.get((follow_up.student_id, follow_up.measure_id, "R"))
        return "apart", _apart_words(follow_up.measure, line, right), voice.day(follow_up.opened_on)
    return line.verdict, _line_words(follow_up, line, voice), voice.week(line.since_on or follow_up.opened_on)


def _line_words(follow_up: FollowUp, line: Line, voice) -> str:
    measure = follow_up.measure
    head = " ".join(word for word in (side_word(follow_up.side), _(measure.short_name)) if word)
    if line.drop is not None:
        return capfirst(f"{head}: {verdict.loss_words(line, voice=voice, unit=_(measure.unit))}")
    state = line_state(line, voice)
    if follow_up.kind == FollowUp.DROPPED:
        # The word lasts four weeks; the question does till it is answered.
        state = _("lost suddenly before %(day)s, now %(state)s") % {
            "day": voice.day(follow_up.opened_on), "state": state,
        }
    text = f"{head} {state}: {write_rate(line)}."
    if line.one_sided:
        text += " " + (_("Left foot only.") if follow_up.side == "L" else _("Right foot only."))
    return capfirst(text)


def _apart_words(measure: Measure, left: Line, right: Line | None) -> str:
    if left.gap is None or right is None:
        return _("%(measure)s: left and right are close again.") % {"measure": measure}
    text = _("%(measure)s: right about %(right)s, left about %(left)s %(unit)s, over %(days)s days that measured both.")
    return text % {
        "measure": measure, "right": write_level(right.level, measure), "left": write_level(left.level, measure),
        "unit": _(measure.unit), "days": left.gap.days_both,
    }


def pain_words(follow_up: FollowUp, resting: set[int], today: dt.date) -> str:
    """What was said, how often, and whether the student rests from rising."""
    reports = [r for r in follow_up.pain_reports.all() if not was_mistake(r)]
    if not reports:
        return _("Reported by mistake.")
    latest = max(reports, key=lambda r: (r.reported_on, r.pk))
    text = report_words(latest)
    if latest.measure:
        text += ", " + _("in %(measure)s") % {"measure": _(latest.measure.short_name)}
    same = [report for report in reports if is_same_matter(as_report(report), as_report(latest))]
    text = " ".join(filter(None, (text + ".", _how_often({r.reported_on for r in same}, today))))
    if not follow_up.is_open:
        return text
    referred = referral_of_follow_up(follow_up)
    if referred == pain.SEEN_TODAY:
        return text + " " + _("To be seen by a doctor the same day.")
    if referred:
        return text + " " + _("A health professional should see it: %(why)s.") % {"why": referral_words(referred)}
    if follow_up.student_id not in resting:
        return text
    return text + " " + _("No rises until this follow-up is closed.")


def _how_often(days: set[dt.date], today: dt.date) -> str:
    """ "Twice in 8 days." on the day of the last of them; read later, between which days."""
    if len(days) < 2:
        return ""
    first, last = min(days), max(days)
    often = {"n": len(days), "span": (last - first).days + 1, "first": write_day(first), "last": write_day(last)}
    if last == today:
        return (_("Twice in %(span)s days.") if len(days) == 2 else _("%(n)s times in %(span)s days.")) % often
    if len(days) == 2:
        return _("Twice: on %(first)s and on %(last)s.") % often
    return _("%(n)s times between %(first)s and %(last)s.") % often


def reported_words(report: PainReport) -> str:
    """One report in a follow-up's list, where a mistaken one says so."""
    words = report_words(report)
    return _("%(report)s (tapped by mistake)") % {"report": words} if was_mistake(report) else words


def grouped(rows: list[FollowUpRow]) -> list[tuple[str, str, list[FollowUpRow]]]:
    """(group, its heading, its rows), the most urgent first; groups without rows are left out."""
    return [
        (key, words, [row for row in rows if row.group == key])
        for key, words in GROUPS
        if any(row.group == key for row in rows)
    ]
