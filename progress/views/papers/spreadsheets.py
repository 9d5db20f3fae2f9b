"""A term for the owner's spreadsheet: the workbook and the plain data."""
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from progress.papers import workbook
from progress.queries.papers.spreadsheets import class_lines, term_rows
from studio.models import Term
from studio.permissions import only

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_GET
@only("run_office", password=True)
def term_workbook(request: HttpRequest, term_id: int) -> HttpResponse:
    term = get_object_or_404(Term, pk=term_id)
    file = workbook.workbook(
        class_lines(term, now=request.now), term_rows(term, now=request.now), data_name=_("Data"), made_on=request.today
    )
    return _kept_as(HttpResponse(file, content_type=XLSX), term, "xlsx")


@require_GET
@only("run_office", password=True)
def term_results(request: HttpRequest, term_id: int) -> HttpResponse:
    term = get_object_or_404(Term, pk=term_id)
    # A byte order mark, so that spreadsheets read the names' letters right.
    text = f"\ufeff{workbook.results_csv(term_rows(term, now=request.now))}"
    return _kept_as(HttpResponse(text, content_type="text/csv; charset=utf-8"), term, "csv")


def _kept_as(answer: HttpResponse, term: Term, ending: str) -> HttpResponse:
    answer.headers["Content-Disposition"] = f'attachment; filename="{slugify(term.name) or "term"}.{ending}"'
    return answer
