"""Papers of one student, printed from the same description as the screen; decides only who may have them."""
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from progress import paper
from progress.queries.term_report import student_record
from progress.record_page import record_html
from progress.speech import voice_for
from studio.pages import key_from, show
from studio.permissions import load_student, reachable_classes
from studio.queries import term_asked_for
from studio.templatetags.wording import full_day


@require_GET
def record(request: HttpRequest, student_id: int) -> HttpResponse:
    """The record of a term as a PDF, for staff and, where a guardian agreed, a clinician."""
    child = load_student(request, student_id)
    term = term_asked_for(key_from(request.GET.get("term", "")), today=request.today)
    size = request.GET.get("paper", "A4")
    if term is None or size not in paper.SIZES:
        raise Http404
    if paper.MISSING:
        return show(request, "progress/paper/missing.html", {"room": "classes"}, status=503)
    described = student_record(child, term, studio=request.studio, classes=reachable_classes(request.user))
    words = _("Printed %(day)s") % {"day": full_day(request.today)}
    printed = paper.pdf(record_html(described, printed=words, voice=voice_for(term)), size=size)
    return pdf_answer(printed, f"{slugify(child.name) or 'student'}-{slugify(term.name)}")


def pdf_answer(printed: bytes, name: str) -> HttpResponse:
    """A PDF that opens in the browser and is kept under this name."""
    return HttpResponse(
        printed, content_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}.pdf"'}
    )
