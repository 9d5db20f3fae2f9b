"""Papers about classes: the sheet of one class for its teacher, the overview of a term for the owner."""
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from progress.actions.papers.report_pages import printed_words
from progress.papers.overview_page import class_sheet_html, overview_html
from progress.queries.class_sheet import class_sheet as read_sheet
from progress.queries.papers.term_overview import term_overview
from progress.views.papers.student import printed
from studio.models import Term
from studio.permissions import load_class, only
from studio.queries import term_on


@require_GET
def class_sheet(request: HttpRequest, class_id: int) -> HttpResponse:
    """What the class's sheet says on screen, as a PDF."""
    group, term = load_class(request, class_id), term_on(request.today)
    return printed(request, lambda: class_sheet_html(
        read_sheet(group, term, today=request.today), class_group=group, term=term, studio=request.studio,
        teachers=list(group.teachers.order_by("name").values_list("name", flat=True)),
        printed=printed_words(request.today),
    ), slugify(group.name) or "class")


@require_GET
@only("run_office")
def overview(request: HttpRequest, term_id: int) -> HttpResponse:
    """A term of the whole studio, as far as it has gone."""
    term = get_object_or_404(Term, pk=term_id)
    return printed(request, lambda: overview_html(
        term_overview(term, today=request.today), term=term, today=request.today, studio=request.studio,
        printed=printed_words(request.today),
    ), f"{slugify(term.name) or 'term'}-overview")
