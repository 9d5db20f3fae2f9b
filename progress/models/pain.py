"""What hurts: reports as they were tapped, what was answered to them, and the way back in steps."""
import uuid

from django.conf import settings
from django.db import models
from django.db.models import OuterRef, Q, Subquery
from django.utils.translation import gettext_lazy as _

from progress.rules.pain import BY_CLINICIAN, BY_MISTAKE, BY_OWNER, BY_TEACHER
from screening.models import Measure, Screening
from studio.models import Student


class PainReportQuerySet(models.QuerySet):
    def delete(self):
        raise TypeError("a pain report is answered, never deleted")

    def with_last_answer(self) -> "PainReportQuerySet":
        last = PainAnswer.objects.filter(report=OuterRef("pk")).order_by("-pk").values("kind")[:1]
        return self.annotate(last_answer=Subquery(last))

    def unanswered(self) -> "PainReportQuerySet":
        """Those that nobody has answered, or whose answer was taken back."""
        return self.with_last_answer().filter(Q(last_answer__isnull=True) | Q(last_answer=PainAnswer.REOPENED))

    def meant(self) -> "PainReportQuerySet":
        """All but those that were tapped by mistake."""
        # Not exclude(): in SQL an answer that is not there is unequal to nothing, and its report would go.
        return self.with_last_answer().filter(Q(last_answer__isnull=True) | ~Q(last_answer=PainAnswer.MISTAKE))


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
    since = models.CharField(_("since when"), max_length=10, blank=True)
    note = models.CharField(_("in words"), max_length=300, blank=True)
    asks = models.CharField(max_length=12)
    reported_on = models.DateField()
    reported_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reported_at = models.DateTimeField(auto_now_add=True)

    objects = PainReportQuerySet.as_manager()

    class Meta:
        ordering = ["-reported_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(intensity__isnull=True) | Q(intensity__lte=10), name="pain_is_0_to_10")
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.reported_on}"

    def delete(self, *args, **kwargs):
        raise TypeError("a pain report is answered, never deleted")

    @property
    def answer(self) -> "PainAnswer | None":
        """What stands as its answer: the last one given, unless that one took the answer back."""
        given = list(self.answers.all())
        return given[-1] if given and given[-1].kind != PainAnswer.REOPENED else None


class PainAnswer(models.Model):
    """What became of a report. The last row stands; one that was wrong is followed by another, never changed."""

    TEACHER, CLINICIAN, OWNER, MISTAKE, REOPENED = BY_TEACHER, BY_CLINICIAN, BY_OWNER, BY_MISTAKE, "reopened"
    ANSWERS = [
        (CLINICIAN, _("seen and cleared by a clinician")), (TEACHER, _("settled, by the teacher")),
        (OWNER, _("decided by the owner")), (MISTAKE, _("reported by mistake")),
    ]
    report = models.ForeignKey(PainReport, models.PROTECT, related_name="answers")
    kind = models.CharField(max_length=10, choices=[*ANSWERS, (REOPENED, _("opened again"))])
    note = models.TextField()
    said_by = models.CharField(_("clinician’s name"), max_length=120, blank=True)
    said_on = models.DateField(_("seen on"), null=True)
    allowed = models.CharField(_("what is allowed"), max_length=300, blank=True)
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind=BY_CLINICIAN) | (~Q(said_by="") & ~Q(allowed="") & Q(said_on__isnull=False)),
                name="clearance_says_who_when_and_what",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.report}: {self.kind}"


class ReturnLadder(models.Model):
    """The owner's steps back into class; a change is a new row. The last step is full class.

    steps: [{"words", "loads": "" (none), "both" (two feet) or "one" (one foot too)}], the gentlest first.
    """

    steps = models.JSONField()
    approved_by = models.CharField(_("approved by (a clinician)"), max_length=120, blank=True)
    approved_on = models.DateField(_("approved on"), null=True, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", null=True)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(approved_by="", approved_on__isnull=True)
                | (~Q(approved_by="") & Q(approved_on__isnull=False)),
                name="ladder_approved_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{len(self.steps)} steps, {self.approved_by or 'not approved'}"

    @property
    def last(self) -> int:
        return len(self.steps) - 1


class ReturnStep(models.Model):
    """A student put on a step of a ladder, by whom and when; the latest row says where she is."""

    START, UP, BACK = "start", "up", "back"
    KINDS = [(START, _("starts")), (UP, _("moves up")), (BACK, _("back a step"))]
    student = models.ForeignKey(Student, models.PROTECT, related_name="return_steps")
    ladder = models.ForeignKey(ReturnLadder, models.PROTECT, related_name="+")
    step = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=5, choices=KINDS)
    note = models.CharField(max_length=300, blank=True)
    on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.student}: {self.step} on {self.on}"

    @property
    def words(self) -> str:
        return self.ladder.steps[self.step]["words"]

    @property
    def loads(self) -> str:
        return self.ladder.steps[self.step]["loads"]

    @property
    def is_full_class(self) -> bool:
        return self.step == self.ladder.last
