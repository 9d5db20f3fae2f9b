"""What a teacher leaves in words for the next one about a student."""
from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.models import Student, Term

# As much as one page has room for beside everything else; tried out in the tests.
LONGEST = 900


class HandoverText(models.Model):
    """One version of a teacher's words about a student and term. The newest one is printed, empty where taken out."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="handover_texts")
    term = models.ForeignKey(Term, models.PROTECT, related_name="+")
    text = models.TextField(_("words for the next teacher"), max_length=LONGEST, blank=True)
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    written_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["student", "term"], name="handover_of_a_term")]

    def __str__(self) -> str:
        return f"{self.student}, {self.term}"
