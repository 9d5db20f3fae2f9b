"""The log of a class: who came, and what each student did of each exercise; rows are appended, never changed."""
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from progress.models.exercises import DoseFields, Exercise, ExerciseVersion, LadderStep
from progress.rules.dose import CLEAN, CORRECTED, LOST, Dose, Practice
from studio.models import ClassGroup, Student, Tap, Term


class ClassLog(models.Model):
    """One class on one day: what its attendance and its entries belong to."""

    class_group = models.ForeignKey(ClassGroup, models.PROTECT, related_name="logs")
    term = models.ForeignKey(Term, models.PROTECT, related_name="+", null=True)
    held_on = models.DateField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-held_on", "pk"]
        constraints = [models.UniqueConstraint(fields=["class_group", "held_on"], name="one_log_a_class_and_day")]

    def __str__(self) -> str:
        return f"{self.class_group}, {self.held_on}"


class Attendance(Tap):
    """Whether a student came; nothing again where the tap was taken back."""

    PLACE, SAYS, NOTHING = ("log", "student"), ("is_present",), {"is_present": None}

    log = models.ForeignKey(ClassLog, models.PROTECT, related_name="attendance")
    student = models.ForeignKey(Student, models.PROTECT, related_name="attendance")
    is_present = models.BooleanField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["key", "student"], name="one_attendance_a_tap"),
            models.UniqueConstraint(
                fields=["log", "student"], condition=Q(supersedes__isnull=True), name="one_first_attendance"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student} {self.is_present}"


class LogEntry(Tap, DoseFields):
    """What one student did of one exercise in one class, beside what was planned for them then.

    Nothing at all is sets 0 ("left out"); a tap that was taken back is a row that says so.
    """

    PLACE = ("log", "student", "exercise")
    SAYS = (
        "version", "step", "sets", "reps", "hold_seconds", "planned_sets", "planned_reps", "planned_hold_seconds",
        "control", "faults", "change", "is_withdrawn",
    )
    NOTHING = {"is_withdrawn": True}

    CONTROLS = [(LOST, _("lost")), (CORRECTED, _("corrected")), (CLEAN, _("clean"))]
    log = models.ForeignKey(ClassLog, models.PROTECT, related_name="entries")
    student = models.ForeignKey(Student, models.PROTECT, related_name="log_entries")
    exercise = models.ForeignKey(Exercise, models.PROTECT, related_name="+")
    version = models.ForeignKey(ExerciseVersion, models.PROTECT, related_name="+")
    step = models.ForeignKey(LadderStep, models.PROTECT, related_name="+", null=True)
    planned_sets = models.PositiveSmallIntegerField()
    planned_reps = models.PositiveSmallIntegerField()
    planned_hold_seconds = models.PositiveSmallIntegerField(null=True)
    control = models.CharField(max_length=10, choices=CONTROLS, blank=True)
    faults = models.JSONField(default=list)
    change = models.CharField(max_length=60)
    is_withdrawn = models.BooleanField(default=False)

    class Meta:
        indexes = [models.Index(fields=["student", "exercise"], name="log_of_a_student")]
        constraints = [
            models.UniqueConstraint(fields=["key", "student", "exercise"], name="one_log_entry_a_tap"),
            models.UniqueConstraint(
                fields=["log", "student", "exercise"], condition=Q(supersedes__isnull=True),
                name="one_first_log_entry",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}: {self.exercise}"

    @property
    def practice(self) -> Practice:
        return Practice(self.dose, self.control, tuple(self.faults))

    @property
    def planned(self) -> Dose:
        return Dose(self.planned_sets, self.planned_reps, self.planned_hold_seconds)


class LoadRule(models.Model):
    """From when a week's load is called a jump: the studio's own rule; the latest row is in force."""

    percent = models.PositiveSmallIntegerField(_("a jump is more than this much above the weeks before, per cent"))
    set_on = models.DateField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-set_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.percent} %"
