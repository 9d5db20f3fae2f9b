"""What a class works on in a term, and each student where theirs differs."""
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from progress.models.exercises import DoseFields, Exercise, LadderStep
from studio.models import ClassGroup, Student, Term


class ProgrammeEntry(DoseFields):
    """An exercise of a class's term, or of one student where theirs differs. Another dose is another row.

    is_spared: the student does without this exercise of the class.
    """

    class_group = models.ForeignKey(ClassGroup, models.PROTECT, related_name="programme_entries")
    term = models.ForeignKey(Term, models.PROTECT, related_name="+")
    student = models.ForeignKey(Student, models.PROTECT, related_name="programme_entries", null=True)
    exercise = models.ForeignKey(Exercise, models.PROTECT, related_name="+")
    step = models.ForeignKey(LadderStep, models.PROTECT, related_name="+", null=True)
    is_spared = models.BooleanField(default=False)
    note = models.CharField(_("note"), max_length=120, blank=True)
    reason = models.CharField(_("why"), max_length=300, blank=True)
    position = models.PositiveSmallIntegerField(default=0)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    added_on = models.DateField()
    added_at = models.DateTimeField(auto_now_add=True)
    left_out_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    left_out_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["class_group", "term", "exercise"], name="an_exercise_once_in_a_class_and_term",
                condition=Q(student__isnull=True, left_out_at__isnull=True),
            ),
            models.UniqueConstraint(
                fields=["class_group", "term", "exercise", "student"], name="an_exercise_once_for_a_student_and_term",
                condition=Q(student__isnull=False, left_out_at__isnull=True),
            ),
            models.CheckConstraint(
                condition=Q(left_out_at__isnull=True, left_out_by__isnull=True)
                | Q(left_out_at__isnull=False, left_out_by__isnull=False),
                name="programme_left_out_who_and_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.class_group}: {self.exercise}"
