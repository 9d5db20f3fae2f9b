"""What hurts: reports as they were tapped, and what was answered to them."""
import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from screening.models import Measure, Screening
from studio.models import Student


class PainReport(models.Model):
    """What a child said hurts, as it was tapped. It is answered, never changed and never deleted."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    student = models.ForeignKey(Student, models.PROTECT, related_name="pain_reports")
    screening = models.ForeignKey(Screening, models.PROTECT, related_name="pain_reports", null=True)
    measure = models.ForeignKey(Measure, models.PROTECT, related_name="+", null=True)
    places = models.JSONField(_("where"), default=list)
    feels = models.CharField(_("what it feels like"), max_length=20)
    intensity = models.PositiveSmallIntegerField(_("how much, 0 to 10"), null=True)
    stopped = models.CharField(_("what it stopped"), max_length=20, blank=True)
    note = models.CharField(_("in words"), max_length=300, blank=True)
    asks = models.CharField(max_length=12)
    reported_on = models.DateField()
    reported_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reported_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-reported_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(intensity__isnull=True) | Q(intensity__lte=10), name="pain_is_0_to_10")
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.reported_on}"


class PainAnswer(models.Model):
    """What became of a report. A report may be answered once; a mistaken tap is an answer too."""

    TEACHER, CLINICIAN, MISTAKE = "teacher", "clinician", "mistake"
    ANSWERS = [
        (CLINICIAN, _("seen and cleared by a clinician")), (TEACHER, _("settled, by the teacher")),
        (MISTAKE, _("reported by mistake")),
    ]
    report = models.OneToOneField(PainReport, models.PROTECT, related_name="answer")
    kind = models.CharField(max_length=10, choices=ANSWERS)
    note = models.TextField()
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{self.report}: {self.kind}"
