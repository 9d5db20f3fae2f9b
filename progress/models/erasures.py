"""That a student was erased: by whom, when, and how much of what; nothing that says who it was."""
from django.conf import settings
from django.db import models


class Erasure(models.Model):
    """One certificate. `number`, the key of the student, stands on old copies and in the audit, and opens nothing."""

    number = models.BigIntegerField(unique=True)
    removed = models.JSONField(help_text="Table to the number of rows that are gone.")
    results_kept = models.PositiveIntegerField(help_text="Figures that stay for the class, without her.")
    erased_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    erased_at = models.DateTimeField(auto_now_add=True)
    # When the old pages were in no file of the database any more; until then there is no certificate.
    gone_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"student {self.number}"
