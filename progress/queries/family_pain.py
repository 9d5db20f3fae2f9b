"""Reads what a family may be told of its child's pain: what is open, what it asks for, what is left out meanwhile."""
import datetime as dt

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from progress.models import FollowUp, HomeTold, PainReport
from progress.queries.pain import referral_of_follow_up, report_words
from progress.queries.resting import rests
from progress.rules.pain import most_urgent
from progress.rules.resting import ALL, Rest
from progress.words.family_pain import Hurt, Pain
from screening.models import Screening
from studio.models import ClassGroup, Student, Studio
from studio.queries import next_class_day


def family_pain(student: Student, *, today: dt.date, now: dt.datetime) -> Pain:
    """Every report of each open follow-up with its day; what somebody wrote about it stays with the staff."""
    reports: dict[int, PainReport] = {}
    is_referred = False
    for row in open_pain(student).prefetch_related(
        Prefetch("pain_reports", PainReport.objects.prefetch_related("answers", "told_home"))
    ):
        reports |= {report.pk: report for report in row.pain_reports.all() if report.answer is None}
        is_referred |= row.kind == FollowUp.PAIN_LASTS or bool(referral_of_follow_up(row))
    rest: Rest | None = rests([student.pk], now=now).get(student.pk)
    return Pain(
        hurts=tuple(_hurt(report) for report in sorted(reports.values(), key=lambda r: (r.reported_on, r.pk))),
        asks=most_urgent(report.asks for report in reports.values()), is_referred=is_referred and bool(reports),
        allows=rest.allows if rest else ALL, on_way_back=rest is not None and not rest.is_pain,
        said=rest.said if rest else "", today=today,
        next_class=next_class_day(_classes(student), after=today), phone=Studio.current().phone,
    )


def _hurt(report: PainReport) -> Hurt:
    told = [row for row in report.told_home.all() if row.way != HomeTold.NOT_REACHED]
    return Hurt(
        report.reported_on, report_words(report), report.stopped,
        timezone.localdate(told[-1].at) if told else None,
    )


def _classes(student: Student) -> QuerySet[ClassGroup]:
    return ClassGroup.objects.filter(enrolments__student=student, enrolments__left_on__isnull=True).distinct()


def open_pain(student: Student) -> QuerySet[FollowUp]:
    return FollowUp.objects.filter(student=student, kind__in=FollowUp.ABOUT_PAIN, closed_at__isnull=True)


def measured_next(student: Student, *, today: dt.date) -> dt.date | None:
    """A measuring day of the student's classes that is fixed already."""
    fixed = Screening.objects.filter(class_group__in=_classes(student), held_on__gt=today)
    return fixed.order_by("held_on").values_list("held_on", flat=True).first()


def loads_nothing(student: Student, *, now: dt.datetime) -> bool:
    """Something is open or the student rests, whether or not it may be told: then nothing is offered for home."""
    return open_pain(student).exists() or bool(rests([student.pk], now=now))
