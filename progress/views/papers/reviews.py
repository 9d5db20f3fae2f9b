"""The papers of a review before pointe work: the sheet for the conversation, and the letter after the decision."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from progress.actions.papers.report_pages import printed_words
from progress.papers.review_page import review_html
from progress.queries.papers.letter import in_her_language
from progress.queries.papers.review import reason_for_no_paper, review_paper
from progress.views.papers.student import printed
from progress.views.reviews import reach_review
from studio.family.queries import agreed_scopes
from studio.permissions import only


@require_GET
@only("teach")
def sheet(request: HttpRequest, review_id: int) -> HttpResponse:
    """One page to have before one in the conversation, in the family's language."""
    return _printed(request, review_id, "sheet")


@require_GET
@only("teach")
def letter(request: HttpRequest, review_id: int) -> HttpResponse:
    """What was decided, kindly, and what the student works on; where nothing is decided, back to the review."""
    return _printed(request, review_id, "letter")


def _printed(request: HttpRequest, review_id: int, kind: str) -> HttpResponse:
    review = reach_review(request, review_id)
    student = review.student
    reason = reason_for_no_paper(review, kind, agreed=agreed_scopes(student, request.now))
    if reason:
        messages.error(request, reason)
        return redirect("progress:review", student_id=student.pk)

    def page() -> str:
        with in_her_language(student, request.studio):
            told = review_paper(review, studio=request.studio, today=request.today, now=request.now)
            return review_html(kind, told, printed=printed_words(request.today))

    return printed(request, page, f"{slugify(student.name) or 'student'}-pointe-{kind}")
