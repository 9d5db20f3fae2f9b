"""The first weeks on pointe: the studio's steps, where a student stands on them, and minutes by class; rows append."""
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from progress.rules.pointe_weeks import FINE, HURTS, NOT_ASKED
from studio.models import ClassGroup, Student

MOST_MINUTES = 120


class PointeLadder(models.Model):
    """The owner's steps: [{"words", "minutes", "source"}], the gentlest first. A change is a new row."""

    steps = models.JSONField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", null=True)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{len(self.steps)} steps"


class PointeStep(models.Model):
    """A student put on a step by a teacher; the latest row says where they stand. The ladder stays as it was then."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="pointe_steps")
    ladder = models.ForeignKey(PointeLadder, models.PROTECT, related_name="+")
    step = models.PositiveSmallIntegerField(_("step"))
    note = models.CharField(_("a note"), max_length=300, blank=True)
    on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.student}: {self.step}"

    @property
    def words(self) -> str:
        return self.ladder.steps[self.step]["words"]

    @property
    def minutes(self) -> int:
        return self.ladder.steps[self.step]["minutes"]


class PointeTime(models.Model):
    """Minutes on pointe in one class, and what was said of heel and big toe. Of a day's rows the last is in force."""

    SAID = [(FINE, _("fine")), (HURTS, _("it hurts")), (NOT_ASKED, _("not asked"))]

    student = models.ForeignKey(Student, models.PROTECT, related_name="pointe_times")
    class_group = models.ForeignKey(ClassGroup, models.PROTECT, related_name="+")
    held_on = models.DateField()
    minutes = models.PositiveSmallIntegerField(_("minutes"))
    said = models.CharField(_("heel and big toe"), max_length=10, choices=SAID, default=NOT_ASKED)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(minutes__lte=MOST_MINUTES), name="minutes_on_pointe_are_likely"),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.held_on}: {self.minutes}"
