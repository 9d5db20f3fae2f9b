"""Reads who at home can be rung, and who was told of a pain."""
from collections.abc import Sequence

from django.utils import timezone
from django.utils.translation import gettext as _

from progress.models import HomeTold, PainReport
from studio.models import Guardian, Student
from studio.templatetags.wording import day as write_day


def whom_to_ring(student: Student) -> list[Guardian]:
    """The guardians with their numbers. How a family is reached is no health note: staff who reach the
    student may see it, as on the student's details."""
    return list(student.guardians.order_by("name", "pk"))


def told_words(row: HomeTold) -> str:
    """ "Ines Owiredu, by telephone, 3 March" """
    return f"{row.who}, {row.get_way_display()}, {write_day(timezone.localdate(row.at))}"


def home_words(waiting: Sequence[PainReport]) -> tuple[bool, str]:
    """(whether somebody at home knows of the latest report, who was told); nothing of a pain that is answered.

    Each report carries its `told_home`.
    """
    if not waiting:
        return True, ""
    latest = max(waiting, key=lambda report: (report.reported_on, report.pk))
    told = [row for report in waiting for row in report.told_home.all() if row.at >= latest.reported_at]
    reached = [row for row in told if row.way != HomeTold.NOT_REACHED]
    if reached:
        return True, _("Told at home: %(who)s.") % {"who": told_words(reached[-1])}
    return False, _("Nobody told at home yet.")
