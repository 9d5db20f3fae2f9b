"""What hurts: reports as they were tapped, what was answered to them, and the way back in steps."""
import uuid

from django.conf import settings
from django.db import models
from django.db.models import OuterRef, Q, Subquery
from django.utils.translation import gettext_lazy as _

from progress.models.class_log import ClassLog
from progress.rules.pain import BY_CLINICIAN, BY_MISTAKE, BY_OWNER, BY_TEACHER, SEVERE_FROM
from progress.rules.resting import ALLOWANCES, STEP_ALLOWS, may_do, rank
from screening.models import Measure, Result, Screening
from studio.models import Guardian, Student, Tap


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
    feels = models.JSONField(_("what it feels like"), default=list)
    signs = models.JSONField(_("also"), default=list)
    # Signs that the words seemed to name and that were said not to be meant.
    not_meant = models.JSONField(default=list)
    intensity = models.PositiveSmallIntegerField(_("how much, 0 to 10"), null=True)
    stopped = models.CharField(_("could go on"), max_length=20, blank=True)
    since = models.CharField(_("since when"), max_length=10, blank=True)
    note = models.CharField(_("in words"), max_length=300, blank=True)
    # In a run: on which rise or at which second, and the count that the pain cut short, where it was kept before.
    at_count = models.PositiveSmallIntegerField(_("at which count"), null=True)
    stopped_result = models.ForeignKey(Result, models.PROTECT, related_name="+", null=True)
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


class PainAnswer(Tap):
    """What became of a report. The last row stands; one that was wrong is followed by another, never changed."""

    TEACHER, CLINICIAN, OWNER, MISTAKE, REOPENED = BY_TEACHER, BY_CLINICIAN, BY_OWNER, BY_MISTAKE, "reopened"
    ANSWERS = [
        (CLINICIAN, _("seen and cleared by a clinician")), (TEACHER, _("settled by the teacher")),
        (OWNER, _("decided by the owner")), (MISTAKE, _("reported by mistake")),
    ]
    PLACE = ("report",)
    SAYS = ("kind", "note", "said_by", "said_on", "allowed", "allows", "until_on", "see_again_on")
    NOTHING = {
        "kind": REOPENED, "said_by": "", "said_on": None, "allowed": "", "allows": "", "until_on": None,
        "see_again_on": None,
    }

    report = models.ForeignKey(PainReport, models.PROTECT, related_name="answers")
    kind = models.CharField(max_length=10, choices=[*ANSWERS, (REOPENED, _("opened again"))])
    note = models.TextField()
    said_by = models.CharField(_("clinician’s name"), max_length=120, blank=True)
    said_on = models.DateField(_("seen on"), null=True)
    allowed = models.CharField(_("what is allowed"), max_length=300, blank=True)
    # The same as one of the steps that the program knows: nobody goes past it without a new clearance.
    allows = models.CharField(
        _("at most"), max_length=12, blank=True, choices=[(key, may_do(key)) for key in ALLOWANCES]
    )
    until_on = models.DateField(_("until when"), null=True)
    see_again_on = models.DateField(_("to be seen again on"), null=True)

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

    steps: [{"words", "loads": a key of STEP_ALLOWS}], the gentlest first. "pointe" is for students on pointe only.
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
    """A student put on a step of a ladder, by whom and when; the latest row says where they are."""

    START, UP, BACK = "start", "up", "back"
    KINDS = [(START, _("starts")), (UP, _("moves up")), (BACK, _("back a step"))]
    student = models.ForeignKey(Student, models.PROTECT, related_name="return_steps")
    ladder = models.ForeignKey(ReturnLadder, models.PROTECT, related_name="+")
    step = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=5, choices=KINDS)
    # The clearance that the way back began with, and the class without pain that a step up leans on.
    clearance = models.ForeignKey(PainAnswer, models.PROTECT, related_name="+", null=True)
    class_log = models.ForeignKey(ClassLog, models.PROTECT, related_name="+", null=True)
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
    def allows(self) -> str:
        """What the student may do on this step, and never more than was allowed: a key of ALLOWANCES."""
        here = STEP_ALLOWS[self.loads]
        limit = self.clearance.allows if self.clearance else ""
        return min(here, limit, key=rank) if limit else here

    @property
    def is_full_class(self) -> bool:
        return self.step == self.ladder.last


class HomeTold(models.Model):
    """Somebody at home was told of a report: who, when and by whom. Rows are added, never changed."""

    PHONE, IN_PERSON, MESSAGE, NOT_REACHED = "phone", "in_person", "message", "not_reached"
    WAYS = [
        (PHONE, _("by telephone")), (IN_PERSON, _("in person")), (MESSAGE, _("by message")),
        (NOT_REACHED, _("not reached")),
    ]
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    report = models.ForeignKey(PainReport, models.PROTECT, related_name="told_home")
    guardian = models.ForeignKey(Guardian, models.PROTECT, related_name="+", null=True)
    who = models.CharField(_("who was told"), max_length=120)
    way = models.CharField(_("how"), max_length=12, choices=WAYS)
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.report}: {self.who}"


class StricterPainRule(models.Model):
    """What the owner made stricter in the answers to pain; the newest row is in force."""

    doctor_from = models.PositiveSmallIntegerField(_("a doctor today from"), default=SEVERE_FROM)
    doctor_places = models.JSONField(default=list)
    reason = models.CharField(_("why"), max_length=300, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(doctor_from__gte=1, doctor_from__lte=SEVERE_FROM), name="pain_rules_are_only_made_stricter"
            ),
        ]

    def __str__(self) -> str:
        return f"from {self.doctor_from} of 10"
