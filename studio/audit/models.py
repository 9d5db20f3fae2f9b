"""The audit's one table: numbers and route names only, no foreign key, no name, no content."""
import datetime as dt

from django.db import models
from django.utils.translation import gettext_lazy as _


class AppendOnly(TypeError):
    """Somebody tried to change or delete what is only ever appended to."""

    def __init__(self):
        super().__init__("the audit is appended to, never changed and never deleted")


class AuditQuerySet(models.QuerySet):
    def update(self, **kwargs):
        raise AppendOnly

    def bulk_update(self, *args, **kwargs):
        raise AppendOnly

    def delete(self):
        raise AppendOnly

    def end_before(self, day: dt.date) -> int:
        """The one end a row has: that of all rows before a day, which the owner's months say. How many went."""
        rows = self.filter(at__date__lt=day)
        return rows._raw_delete(rows.db)


class AuditRow(models.Model):
    """One person, one page, at most one student. Keys are plain numbers, so a row outlives what it is about.

    No address of the network: the studio's own is the same for everybody in it, and anybody else's names a household.
    """

    OWNER, TEACHER, GUARDIAN, NOBODY, STUDIO = "owner", "teacher", "guardian", "nobody", "studio"
    ROLES = [
        (OWNER, _("owner")), (TEACHER, _("teacher")), (GUARDIAN, _("guardian")), (NOBODY, _("unknown")),
        (STUDIO, _("the program itself")),
    ]
    SAW, CHANGED, EXPORTED, REFUSED, ASKED, CAME_IN, WENT_OUT, ERASED = (
        "saw", "changed", "exported", "refused", "asked", "came_in", "went_out", "erased",
    )
    OUTCOMES = [
        (SAW, _("saw")), (CHANGED, _("changed")), (EXPORTED, _("exported")), (REFUSED, _("refused")),
        (ASKED, _("password right, asked for a code")), (CAME_IN, _("logged in")),
        (WENT_OUT, _("logged out")), (ERASED, _("erased")),
    ]
    at = models.DateTimeField(auto_now_add=True, db_index=True)
    role = models.CharField(max_length=8, choices=ROLES)
    # Of a user; of a guardian where the role says so; None where nobody was known.
    person_key = models.BigIntegerField(null=True)
    outcome = models.CharField(max_length=8, choices=OUTCOMES)
    # The route's name, never the address: an address may hold a key or a name.
    page = models.CharField(max_length=60)
    student_key = models.BigIntegerField(null=True)
    class_key = models.BigIntegerField(null=True)
    tablet_key = models.BigIntegerField(null=True)
    browser = models.CharField(max_length=60, blank=True)

    objects = AuditQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [
            models.Index(fields=["student_key", "-id"], name="audit_of_a_student"),
            models.Index(fields=["class_key", "-id"], name="audit_of_a_class"),
            models.Index(fields=["role", "person_key", "-id"], name="audit_of_a_person"),
        ]

    def __str__(self) -> str:
        return f"{self.role} {self.person_key} {self.outcome} {self.page}"

    def save(self, *args, **kwargs):
        if self.pk is not None:
            raise AppendOnly
        super().save(*args, **kwargs)

    def delete(self, *args, **kwargs):
        raise AppendOnly
