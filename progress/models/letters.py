"""A teacher's own words in the family letter of a term."""
from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.models import Student, Term

# As much as the letter has room for beside everything else on two pages of Letter; tried out in the tests.
LONGEST = 1500


class LetterText(models.Model):
    """One version of these words for a student and term. Appended: the newest one is printed, empty where taken out."""

    student = models.ForeignKey(Student, models.PROTECT, related_name="letter_texts")
    term = models.ForeignKey(Term, models.PROTECT, related_name="+")
    text = models.TextField(_("your own words"), max_length=LONGEST, blank=True)
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    written_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["student", "term"], name="letter_of_a_term")]

    def __str__(self) -> str:
        return f"{self.student}, {self.term}"
