"""Makes the finished page of each kind of report, and says why one is left out; issues and prints nothing."""
import datetime as dt
import hashlib
from dataclasses import dataclass

from django.utils import timezone, translation
from django.utils.html import escape
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from progress.models import IssuedReport
from progress.papers import paper
from progress.papers.letter_page import letter_html
from progress.papers.record_page import record_html
from progress.queries.papers.letter import family_letter, in_her_language, reason_for_no_letter
from progress.queries.papers.term_report import student_record
from progress.words.speech import voice_for
from studio.family.queries import agreed_scopes
from studio.models import ClassGroup, Consent, Student, Studio, Term
from studio.templatetags.wording import full_day

# Stands where the words about the printing come. No text can hold it: all that people wrote is escaped.
_PRINTING = SafeString("<!-- printing -->")


@dataclass(frozen=True)
class ReportPage:
    """A report laid out once: what it says, whenever it is printed, and what it says when it is handed out."""

    laid_out: str
    language: str

    def undated(self) -> str:
        """The same for the same facts, on every day."""
        return self.laid_out.replace(_PRINTING, "")

    def dated(self, on: dt.date, earlier: dt.date | None) -> str:
        """With the day of printing and, where there is one, of the report that it replaces."""
        with translation.override(self.language):
            return self.laid_out.replace(_PRINTING, escape(printed_words(on, earlier)))


def page_of(kind: str, student: Student, term: Term) -> ReportPage:
    """The page of a report, its facts read once."""
    return {IssuedReport.RECORD: _record, IssuedReport.LETTER: _letter}[kind](student, term)


def _record(student: Student, term: Term) -> ReportPage:
    record = student_record(
        student, term, studio=Studio.current(), classes=ClassGroup.objects.all(), now=timezone.now()
    )
    return ReportPage(record_html(record, printed=_PRINTING, voice=voice_for(term)), translation.get_language())


def _letter(student: Student, term: Term) -> ReportPage:
    studio = Studio.current()
    with in_her_language(student, studio):
        letter = family_letter(student, term, studio=studio, today=term.ends_on, now=timezone.now())
        return ReportPage(letter_html(letter, printed=_PRINTING, voice=voice_for(term)), translation.get_language())


def printed_words(on: dt.date, earlier: dt.date | None = None) -> str:
    if earlier is None:
        return _("Printed %(day)s") % {"day": full_day(on)}
    return _("Printed %(day)s; replaces the one of %(earlier)s") % {"day": full_day(on), "earlier": full_day(earlier)}


def replaced_day(kind: str, student: Student, term: Term) -> dt.date | None:
    """The day of the report that was handed out last, where it says something else than one printed now would."""
    issued = IssuedReport.objects.filter(student=student, term=term, kind=kind, replaced_by__isnull=True)
    last = issued.order_by("issued_on", "pk").last()
    if last is None or last.digest == digest_of(page_of(kind, student, term)):
        return None
    return last.issued_on


def digest_of(page: ReportPage) -> str:
    """The same for the same facts, whatever day they are printed on."""
    return hashlib.sha256(page.undated().encode()).hexdigest()


def reason_to_leave_out(kind: str, student: Student, term: Term) -> str:
    """In words for the office; nothing where the report is to be printed."""
    agreed = agreed_scopes(student, timezone.now())
    if kind == IssuedReport.LETTER:
        return reason_for_no_letter(student, term, agreed=agreed)
    if Consent.MEASUREMENTS not in agreed:
        return _("The family has not agreed to measurements.")
    measured = student.results.in_force().filter(
        value__isnull=False, taken_on__gte=term.starts_on, taken_on__lte=term.ends_on
    )
    return "" if measured.exists() else _("Nothing was measured in this term.")


def letters_lacking(error: paper.NotOurLetters) -> str:
    """What a person is told where something would be printed in boxes."""
    return _("The font on paper has no %(letters)s. To print the name, write it in Latin letters as well.") % {
        "letters": " ".join(error.letters)}
