"""How tall a student was, and when: facts that are appended, never a weight."""
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.models import Student

# Hard limits of a height in a studio, cm (from memory of growth charts); unusual ones are asked back in the form.
LOWEST, HIGHEST = 80, 210


class HeightQuerySet(models.QuerySet):
    def standing(self) -> "HeightQuerySet":
        """Those that no later row corrected or took back."""
        return self.filter(superseded_by__isnull=True, height_cm__isnull=False)


class Height(models.Model):
    """One height, shoes off. A correction is a new row that supersedes it; without a height it takes it back."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="heights")
    height_cm = models.DecimalField(_("height, cm"), max_digits=4, decimal_places=1, null=True)
    measured_on = models.DateField(_("measured on"))
    supersedes = models.OneToOneField("self", models.PROTECT, related_name="superseded_by", null=True)
    measured_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(auto_now_add=True)

    objects = HeightQuerySet.as_manager()

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
