"""The judgement's facts and its one cache: pain reports, their answers, follow-ups, standings."""
import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from screening.models import Measure, Screening
from studio.models import ClassGroup, Student


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


class FollowUp(models.Model):
    """Something about a student that somebody must see to; opened by facts, one for a cause."""

    STOP_SIGN, PAIN_LASTS, NO_GAIN, SIDES_APART, NOT_MEASURED = (
        "stop_sign", "pain_lasts", "no_gain", "sides_apart", "not_measured",
    )
    KINDS = [
        (STOP_SIGN, _("Stop signs")), (PAIN_LASTS, _("Pain that lasts or comes back")),
        (NO_GAIN, _("Stalled or slipping")), (SIDES_APART, _("Left and right apart")),
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
        return self.kind in (self.STOP_SIGN, self.PAIN_LASTS)


class FollowUpNote(models.Model):
    """What was done about a follow-up, in somebody's words; the last one closes it."""

    follow_up = models.ForeignKey(FollowUp, models.PROTECT, related_name="notes")
    text = models.TextField(_("what was done"))
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return self.text[:60]


class Standing(models.Model):
    """A student's current verdict for a measure and side: a cache of the judge's answer, rebuilt from results.

    `line` holds the whole answer as judgement.Line, so that every page shows the very same numbers.
    """

    student = models.ForeignKey(Student, models.CASCADE, related_name="standings")
    measure = models.ForeignKey(Measure, models.CASCADE, related_name="+")
    side = models.CharField(max_length=1, blank=True)
    class_group = models.ForeignKey(ClassGroup, models.CASCADE, related_name="standings")
    as_of = models.DateField()
    verdict = models.CharField(max_length=12)
    measure_again = models.BooleanField(default=False)
    line = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["student", "measure", "side"], name="one_standing_a_line"),
        ]

    def __str__(self) -> str:
        return f"{self.student} {self.measure} {self.side}: {self.verdict}"


class ClassStanding(models.Model):
    """What a whole class shares, from the same computation as its students' standings."""

    class_group = models.OneToOneField(ClassGroup, models.CASCADE, related_name="standing")
    as_of = models.DateField()
    stalls = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"{self.class_group}, {self.as_of}"



class LearnedValue(models.Model):
    """A typical error or gain as the studio's own results taught it; the latest row of a measure is in force."""

    ERROR, GAIN = "error", "gain"
    measure = models.ForeignKey(Measure, models.CASCADE, related_name="learned_values")
    kind = models.CharField(max_length=5, choices=[(ERROR, _("typical error")), (GAIN, _("typical gain a week"))])
    value = models.FloatField()
    evidence = models.PositiveIntegerField(help_text=_("Pairs of results, or lines of finished terms."))
    learned_on = models.DateField()
    learned_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["measure", "kind", "-learned_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.measure}: {self.kind} {self.value}"
