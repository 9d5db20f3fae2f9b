"""What somebody must see to, and what was done about it."""
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from progress.models.pain import PainReport
from screening.models import Measure
from studio.models import ClassGroup, Student


class FollowUp(models.Model):
    """Something about a student that somebody must see to; opened by facts, one for a cause."""

    STOP_SIGN, PAIN_LASTS, SEE_AGAIN, DROPPED, PAIN_WATCHED, NO_GAIN, SIDES_APART, LOOK_AGAIN, NOT_MEASURED = (
        "stop_sign", "pain_lasts", "see_again", "dropped", "pain_watched", "no_gain", "sides_apart", "look_again",
        "not_measured",
    )
    ABOUT_PAIN = (STOP_SIGN, PAIN_LASTS, PAIN_WATCHED)
    # What is told only where the family agreed to pain notes.
    ABOUT_HEALTH = (*ABOUT_PAIN, SEE_AGAIN)
    KINDS = [
        (STOP_SIGN, _("Stop signs")), (PAIN_LASTS, _("Pain to be seen")),
        (SEE_AGAIN, _("To be seen again")), (DROPPED, _("Lost suddenly")),
        (PAIN_WATCHED, _("Pain to ask about in the next class")),
        (NO_GAIN, _("Stalled or slipping")), (SIDES_APART, _("Left and right apart")),
        (LOOK_AGAIN, _("To look at again together")),
        (NOT_MEASURED, _("Not measured lately")),
    ]
    student = models.ForeignKey(Student, models.PROTECT, related_name="follow_ups")
    class_group = models.ForeignKey(ClassGroup, models.PROTECT, related_name="+", null=True)
    kind = models.CharField(max_length=12, choices=KINDS)
    measure = models.ForeignKey(Measure, models.PROTECT, related_name="+", null=True)
    side = models.CharField(max_length=1, blank=True)
    opened_on = models.DateField()
    opened_at = models.DateTimeField(auto_now_add=True)
    acts = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="follow_ups", null=True)
    due_on = models.DateField()
    closed_on = models.DateField(null=True)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", null=True)
    closed_at = models.DateTimeField(null=True)
    pain_reports = models.ManyToManyField(PainReport, related_name="follow_ups")

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["student", "kind", "measure", "side"],
                condition=Q(closed_at__isnull=True, measure__isnull=False), name="one_open_follow_up_a_line",
            ),
            models.UniqueConstraint(
                fields=["student", "kind"],
                condition=Q(closed_at__isnull=True, measure__isnull=True), name="one_open_follow_up_a_kind",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, closed_by__isnull=True, closed_on__isnull=True)
                | Q(closed_at__isnull=False, closed_by__isnull=False, closed_on__isnull=False),
                name="follow_up_closed_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}: {self.kind}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None

    @property
    def is_about_pain(self) -> bool:
        return self.kind in self.ABOUT_PAIN


class FollowUpNote(models.Model):
    """What was done about a follow-up, in somebody's words, and what else happened to it: its whole history."""

    NOTE, CLOSED, REOPENED, CAME_BACK, HANDED_OVER, MOVED = (
        "note", "closed", "reopened", "came_back", "handed_over", "moved",
    )
    KINDS = [
        (NOTE, _("note")), (CLOSED, _("closed")), (REOPENED, _("opened again")), (CAME_BACK, _("came back")),
        (HANDED_OVER, _("handed over")), (MOVED, _("another day")),
    ]
    kind = models.CharField(max_length=11, choices=KINDS, default=NOTE)
    follow_up = models.ForeignKey(FollowUp, models.PROTECT, related_name="notes")
    text = models.TextField(_("what was done"))
    # Nobody where the judgement itself opened it again.
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", null=True)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return self.text[:60]
