"""How tall a student was, and when: facts that are appended, never a weight."""
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.models import Student, Tap

# Hard limits of a height in a studio, cm (from memory of growth charts); unusual ones are asked back in the form.
LOWEST, HIGHEST = 80, 210


class Height(Tap):
    """One height, shoes off. A correction is a new row that supersedes it; without a height it takes it back."""

    PLACE, SAYS, NOTHING = ("student",), ("height_cm", "measured_on"), {"height_cm": None}

    student = models.ForeignKey(Student, models.PROTECT, related_name="heights")
    height_cm = models.DecimalField(_("height, cm"), max_digits=4, decimal_places=1, null=True)
    measured_on = models.DateField(_("measured on"))

    class Meta:
        ordering = ["measured_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(height_cm__isnull=True) | Q(height_cm__gte=LOWEST, height_cm__lte=HIGHEST),
                name="height_is_likely",
            ),
            models.CheckConstraint(
                condition=Q(height_cm__isnull=False) | Q(supersedes__isnull=False), name="height_or_taken_back"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.measured_on}: {self.height_cm}"
