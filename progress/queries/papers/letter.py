"""Reads the family letter of a student and term: what the family's page says, and the teacher's own words."""
import datetime as dt
from contextlib import AbstractContextManager
from dataclasses import dataclass

from django.db.models import Exists
from django.utils import translation
from django.utils.translation import gettext as _

from progress.models import LetterText, Standing, TermStanding
from progress.queries.family import FamilyPage, family_page, term_on_paper
from studio.models import Consent, Student, Studio, Term


@dataclass(frozen=True)
class FamilyLetter:
    """The letter top to bottom. `own_words`: paragraphs, none where nobody wrote any; `by`: who wrote them."""

    studio: str
    page: FamilyPage
    own_words: tuple[str, ...]
    by: str
    foot: str


def family_letter(student: Student, term: Term, *, studio: Studio, today: dt.date, now: dt.datetime) -> FamilyLetter:
    """In the active language; what the family may not be told is not in it, as on its page."""
    page = family_page(student, term, at=now, today=today)
    text = latest_text(student, term)
    words = text.text if text else ""
    return FamilyLetter(
        studio=studio.name, page=page, by=text.written_by.name if text else "",
        own_words=tuple(line.strip() for line in words.splitlines() if line.strip()),
        foot=f"{student.name}, {term_on_paper(term)}",
    )


def latest_text(student: Student, term: Term) -> LetterText | None:
    return LetterText.objects.filter(student=student, term=term).select_related("written_by").first()


def texts_of(student: Student, term: Term) -> list[LetterText]:
    """Every version, the newest first."""
    return list(LetterText.objects.filter(student=student, term=term).select_related("written_by"))


def in_her_language(student: Student, studio: Studio) -> AbstractContextManager:
    """The language that the first guardian, by name, chose; else the studio's."""
    chosen = student.guardians.exclude(language_code="").values_list("language_code", flat=True).first()
    return translation.override(chosen or studio.language_code)


def reason_for_no_letter(student: Student, term: Term, *, agreed: frozenset[str]) -> str:
    """Why this letter is not handed out: nobody agreed, nothing to say, or the term's lines have moved on."""
    if Consent.FAMILY not in agreed:
        return _("No consent to share.")
    if Consent.MEASUREMENTS not in agreed:
        return _("The family has not agreed to measurements.")
    measured = student.results.in_force().filter(
        value__isnull=False, taken_on__gte=term.starts_on, taken_on__lte=term.ends_on
    )
    judged_since = Standing.objects.filter(student=student, as_of__gt=term.ends_on)
    kept = TermStanding.objects.filter(student=student, term=term)
    has_results, is_past, is_kept = Student.objects.filter(pk=student.pk).values_list(
        Exists(measured), Exists(judged_since), Exists(kept)).get()
    if not has_results:
        return _("Nothing was measured in this term.")
    # The words are made of what was kept when the term ended, else of the lines of today.
    return _("What was judged in this term was not kept.") if is_past and not is_kept else ""
