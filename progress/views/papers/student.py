"""Papers of one student, printed from the same description as the screen; decides only who may have them."""
from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from progress.actions.papers.report_pages import letters_lacking, printed_words, replaced_day
from progress.models import IssuedReport
from progress.papers import paper
from progress.papers.letter_page import letter_html
from progress.papers.note_page import note_html
from progress.papers.record_page import record_html
from progress.queries.papers.letter import family_letter, in_her_language, reason_for_no_letter
from progress.queries.papers.referral import referral_note
from progress.queries.papers.term_report import student_record
from progress.queries.resting import ladder_in_force
from progress.words.speech import voice_for
from studio.family.queries import agreed_scopes
from studio.models import Consent, Term
from studio.pages import key_from, show
from studio.permissions import only, reach_student, reachable_classes
from studio.queries import term_asked_for


@require_GET
def record(request: HttpRequest, student_id: int) -> HttpResponse:
    """The record of a term as a PDF, for staff and, where a guardian agreed, a clinician."""
    child, term = reach_student(request, student_id), term_of(request)

    def page() -> str:
        described = student_record(
            child, term, studio=request.studio, classes=reachable_classes(request.user), now=request.now
        )
        words = printed_words(request.today, replaced_day(IssuedReport.RECORD, child, term))
        return record_html(described, printed=words, voice=voice_for(term))

    return printed(request, page, f"{slugify(child.name) or 'student'}-{slugify(term.name)}")


@require_GET
@only("teach")
def letter(request: HttpRequest, student_id: int) -> HttpResponse:
    """The family letter as it would be handed out now, in the family's language; nothing is issued."""
    child, term = reach_student(request, student_id), term_of(request)
    if reason_for_no_letter(child, term, agreed=agreed_scopes(child, timezone.now())):
        return redirect("progress:write-letter", student_id=child.pk)

    def page() -> str:
        with in_her_language(child, request.studio):
            described = family_letter(child, term, studio=request.studio, today=request.today, now=request.now)
            words = printed_words(request.today, replaced_day(IssuedReport.LETTER, child, term))
            return letter_html(described, printed=words, voice=voice_for(term))

    return printed(request, page, f"{slugify(child.name) or 'student'}-{slugify(term.name)}-letter")


@require_GET
@only("measure")
def note(request: HttpRequest, student_id: int) -> HttpResponse:
    """The note for a clinician as a PDF; where nobody agreed to sharing, the page that says so."""
    child = reach_student(request, student_id)
    agreed = agreed_scopes(child, timezone.now())
    if Consent.CLINICIAN not in agreed:
        return redirect("progress:referral-note", student_id=child.pk)

    def page() -> str:
        return note_html(
            referral_note(child, agreed=agreed, today=request.today, now=request.now), steps=ladder_in_force().steps,
            studio=request.studio, printed=printed_words(request.today),
        )

    return printed(request, page, f"{slugify(child.name) or 'student'}-note")


def term_of(request: HttpRequest) -> Term:
    """The term that was asked for, else the present one; 404 where there is none."""
    term = term_asked_for(key_from(request.GET.get("term", "")), today=request.today)
    if term is None:
        raise Http404
    return term


def printed(request: HttpRequest, page: Callable[[], str], name: str) -> HttpResponse:
    """A page as a PDF that opens in the browser and is kept under this name; where it cannot be, a page says why."""
    size = request.GET.get("paper", "A4")
    if size not in paper.SIZES:
        raise Http404
    if paper.MISSING:
        return show(request, "progress/paper/missing.html", {"room": "classes"}, status=503)
    try:
        file = paper.pdf(page(), size=size)
    except paper.NotOurLetters as lacking:
        context = {"room": "classes", "why": letters_lacking(lacking)}
        return show(request, "progress/paper/missing.html", context, status=422)
    return HttpResponse(
        file, content_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}.pdf"'}
    )
