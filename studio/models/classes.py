"""When dance is taught: terms with their holidays, classes with their times."""
import datetime as dt

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

WEEKDAYS = [
    (0, _("Monday")), (1, _("Tuesday")), (2, _("Wednesday")), (3, _("Thursday")),
    (4, _("Friday")), (5, _("Saturday")), (6, _("Sunday")),
]


class Term(models.Model):
    name = models.CharField(_("name"), max_length=60, unique=True)
    starts_on = models.DateField(_("first day"))
    ends_on = models.DateField(_("last day"))

    class Meta:
        ordering = ["-starts_on"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_on__gt=F("starts_on")), name="term_ends_after_it_starts")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def first_monday(self) -> dt.date:
        return self.starts_on - dt.timedelta(days=self.starts_on.weekday())

    def week_number(self, on: dt.date) -> int:
        """Week of the term, Monday to Sunday, 1 for the week of the first day; holidays count as weeks."""
        return (on - self.first_monday).days // 7 + 1

    def week_on(self, on: dt.date) -> int | None:
        """Week of the term on that day; None outside it."""
        return self.week_number(on) if self.starts_on <= on <= self.ends_on else None

    @property
    def week_count(self) -> int:
        return self.week_number(self.ends_on)


class Holiday(models.Model):
    """Days inside a term without classes, such as half-term."""

    term = models.ForeignKey(Term, models.CASCADE, related_name="holidays")
    name = models.CharField(_("name"), max_length=60)
    starts_on = models.DateField(_("first day"))
    ends_on = models.DateField(_("last day"))

    class Meta:
        ordering = ["starts_on"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_on__gte=F("starts_on")), name="holiday_ends_after_it_starts")
        ]

    def __str__(self) -> str:
        return self.name


class ClassGroup(models.Model):
    """A class that meets week after week; its students are enrolled by term."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    teachers = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="class_groups", blank=True)
    group_size = models.PositiveSmallIntegerField(_("children at the barre at a time"), default=6)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(group_size__gte=1) & Q(group_size__lte=8), name="one_to_eight_at_the_barre"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ClassMeeting(models.Model):
    class_group = models.ForeignKey(ClassGroup, models.CASCADE, related_name="meetings")
    weekday = models.PositiveSmallIntegerField(_("day"), choices=WEEKDAYS)
    starts_at = models.TimeField(_("time"))

    class Meta:
        ordering = ["weekday", "starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["class_group", "weekday", "starts_at"], name="one_meeting_at_a_time")
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.starts_at:%H:%M}"
