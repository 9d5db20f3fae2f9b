"""Reports that were handed out, and the runs that made them."""
import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.models import Student, Term


class IssuedReport(models.Model):
    """A report as it was handed out: its page is kept and never changed, so it prints the same bytes for ever.

    `digest` is of what it says without the day of printing: the same facts are not issued twice.
    """

    RECORD, LETTER = "record", "letter"
    KINDS = [(RECORD, _("student record")), (LETTER, _("family letter"))]
    student = models.ForeignKey(Student, models.PROTECT, related_name="issued_reports")
    term = models.ForeignKey(Term, models.PROTECT, related_name="+")
    kind = models.CharField(_("kind"), max_length=10, choices=KINDS)
    size = models.CharField(_("paper"), max_length=6, choices=[("A4", "A4"), ("Letter", "Letter")])
    page = models.TextField()
    digest = models.CharField(max_length=64)
    issued_on = models.DateField()
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    issued_at = models.DateTimeField(auto_now_add=True)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, related_name="replaced_by")

    class Meta:
        ordering = ["-issued_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["student", "term", "kind", "size"], condition=Q(replaces__isnull=True),
                name="one_first_report_of_a_term",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.term}: {self.kind}"


class ReportRun(models.Model):
    """One order of a term's reports: who asked for which, how far it is, and until when its files are kept."""

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    term = models.ForeignKey(Term, models.PROTECT, related_name="+")
    kind = models.CharField(_("kind"), max_length=10, choices=IssuedReport.KINDS)
    size = models.CharField(_("paper"), max_length=6, choices=[("A4", "A4"), ("Letter", "Letter")])
    asked_on = models.DateField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    cancelled_at = models.DateTimeField(null=True)
    bound_at = models.DateTimeField(null=True)
    expires_on = models.DateField()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.term}: {self.kind}"


class RunSheet(models.Model):
    """One student in a run: waiting, printed, or left out and why."""

    WAITING, PRINTED, LEFT_OUT = "waiting", "printed", "left_out"
    STATES = [(WAITING, _("waiting")), (PRINTED, _("printed")), (LEFT_OUT, _("left out"))]
    run = models.ForeignKey(ReportRun, models.CASCADE, related_name="sheets")
    student = models.ForeignKey(Student, models.PROTECT, related_name="+")
    position = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=STATES, default=WAITING)
    reason = models.CharField(max_length=200, blank=True)
    report = models.ForeignKey(IssuedReport, models.PROTECT, null=True, related_name="+")
    done_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["run", "student"], name="a_student_once_in_a_run")]

    def __str__(self) -> str:
        return f"{self.run}: {self.student}"
