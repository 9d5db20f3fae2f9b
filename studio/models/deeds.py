"""Who did what to a row that only says how it is now."""
from typing import Any

from django.conf import settings
from django.db import models


class Deed(models.Model):
    """One thing a person did: appended, never changed. The row is named by its table and key, so it may go."""

    CHANGED, REOPENED, LEFT, RETURNED, REMOVED, PROLONGED, STOPPED, NEW_PASSWORD = (
        "changed", "reopened", "left", "returned", "removed", "prolonged", "stopped", "new_password",
    )
    what = models.CharField(max_length=12, choices=[
        (name, name) for name in (CHANGED, REOPENED, LEFT, RETURNED, REMOVED, PROLONGED, STOPPED, NEW_PASSWORD)
    ])
    table = models.CharField(max_length=60)
    row_key = models.BigIntegerField()
    # None where the computer's own command line did it.
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        indexes = [models.Index(fields=["table", "row_key"], name="deeds_of_a_row")]

    def __str__(self) -> str:
        return f"{self.table} {self.row_key} {self.what}"

    @classmethod
    def note(cls, row: models.Model, what: str, by: Any) -> "Deed":
        return cls.objects.create(what=what, table=row._meta.label_lower, row_key=row.pk, by=by)
