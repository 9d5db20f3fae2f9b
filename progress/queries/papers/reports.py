"""Reads how far a run of reports is, and who would be in one; writes and prints nothing."""
import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Max, Min, Q
from django.utils.translation import gettext as _

from progress.models import IssuedReport, ReportRun, RunSheet
from studio.family.queries import withheld
from studio.models import Consent, Enrolment, Student, Term
from studio.templatetags.wording import day

# Far longer than one report takes. Our choice.
QUIET = dt.timedelta(minutes=2)


@dataclass(frozen=True)
class OrderView:
    """A run as its page shows it. `seconds_left`: None before there is anything to go by; `is_quiet`: nobody prints."""

    run: ReportRun
    total: int
    printed: int
    done: int
    seconds_left: int | None
    left_out: tuple[RunSheet, ...]
    is_over: bool
    has_files: bool
    is_quiet: bool

    @property
    def minutes_left(self) -> int | None:
        return None if self.seconds_left is None else max(1, round(self.seconds_left / 60))

    @property
    def state_words(self) -> str:
        """How far it is, on the list of what was printed."""
        if self.run.cancelled_at:
            return _("stopped")
        if not self.is_over:
            return _("being printed")
        if not self.has_files:
            return _("files removed")
        return _("files kept until %(day)s") % {"day": day(self.run.expires_on)}

    @property
    def names_by_reason(self) -> dict[str, list[str]]:
        """Who was left out, by why: a stopped run says it once."""
        names: dict[str, list[str]] = {}
        for sheet in self.left_out:
            names.setdefault(sheet.reason, []).append(sheet.student.name)
        return names


def students_of_term(term: Term, class_ids: list[int] | None = None) -> list[Student]:
    """Everyone who was in a class of a term, as papers are handed out: class by class, each by family name.

    class_ids: in these classes only.
    """
    enrolled = Enrolment.objects.filter(term=term).for_a_day_at_least().select_related("student", "class_group")
    if class_ids:
        enrolled = enrolled.filter(class_group__in=class_ids)
    rows = sorted(enrolled, key=lambda row: (row.class_group.name, _by_family_name(row.student.name), row.student_id))
    return list({row.student_id: row.student for row in rows}.values())


def _by_family_name(name: str) -> tuple[str, str]:
    *before, last = name.split(" ")
    return last.casefold(), " ".join(before).casefold()


def recent_orders(*, today: dt.date, now: dt.datetime) -> list[OrderView]:
    """The latest few runs."""
    return [order_view(run, today=today, now=now) for run in ReportRun.objects.select_related("term", "asked_by")[:5]]


def order_view(run: ReportRun, *, today: dt.date, now: dt.datetime) -> OrderView:
    counts = run.sheets.aggregate(
        total=Count("pk"), printed=Count("pk", filter=Q(state=RunSheet.PRINTED)),
        done=Count("pk", filter=~Q(state=RunSheet.WAITING)), first=Min("done_at"), last=Max("done_at"),
    )
    first, last = counts.pop("first"), counts.pop("last") or run.asked_at
    left_out = run.sheets.filter(state=RunSheet.LEFT_OUT).select_related("student")
    is_over = run.bound_at is not None
    return OrderView(
        run=run,
        **counts,
        seconds_left=None if is_over else _seconds_left(now, first, **counts),
        left_out=tuple(left_out),
        is_over=is_over,
        has_files=is_over and counts["printed"] > 0 and today <= run.expires_on,
        is_quiet=not is_over and now - last > QUIET,
    )


def is_still_agreed(run: ReportRun, *, now: dt.datetime) -> bool:
    """False where a file would show what somebody took back after it was printed: measurements, pain, sharing."""
    printed = run.sheets.filter(state=RunSheet.PRINTED).values("student")
    if Student.objects.filter(pk__in=printed).filter(pk__in=withheld(Consent.MEASUREMENTS, now)).exists():
        return False
    if run.kind == IssuedReport.LETTER and Student.objects.filter(pk__in=printed).filter(
        pk__in=withheld(Consent.FAMILY, now)
    ).exists():
        return False
    # Who never agreed to pain notes is printed without any; who took them back since is not.
    since = Consent.objects.filter(student__in=printed, scope=Consent.PAIN, is_given=False)
    # A letter of yesterday that is typed in today holds from yesterday, and these files are of this morning.
    return not since.filter(Q(at__gt=run.asked_at) | Q(recorded_at__gt=run.asked_at)).exists()


def _seconds_left(now: dt.datetime, first: dt.datetime | None, *, total: int, printed: int, done: int) -> int | None:
    if first is None or done < 2:
        return None
    spent = (now - first).total_seconds()
    return round(spent / (done - 1) * (total - done))
