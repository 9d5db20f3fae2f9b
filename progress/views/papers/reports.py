"""The office's term reports: order them, watch them being printed, take the files, stop."""
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.actions.papers import reports as actions
from progress.forms import ReportsForm
from progress.models import ReportRun, RunSheet
from progress.papers import paper
from progress.queries.papers import reports as queries
from studio.audit.marks import mark_students
from studio.models import Term
from studio.pages import show
from studio.permissions import only
from studio.queries import people_in_words, term_on

FILES = {"all.pdf": "application/pdf", "all.zip": "application/zip"}


@require_http_methods(["GET", "POST"])
@only("run_office")
def reports(request: HttpRequest) -> HttpResponse:
    form = ReportsForm(request.POST or None, initial={"term": term_on(request.today), "size": "A4"})
    if request.method == "POST" and form.is_valid():
        wanted = form.cleaned_data
        students = list(queries.students_of_term(wanted["term"], [group.pk for group in wanted["classes"]]))
        mark_students(request, [student.pk for student in students])
        ordered = actions.order_reports(
            term=wanted["term"], kind=wanted["kind"], size=wanted["size"], asked_on=request.today, by=request.user,
            students=students,
        )
        return redirect("progress:report-run", run_key=ordered.key)
    return show(request, "progress/office/reports.html", {
        "room": "office",
        "form": form,
        "runs": queries.recent_orders(today=request.today, now=request.now),
        "missing": paper.MISSING, "people_in_words": people_in_words(term_on(request.today), request.today),
        "terms": Term.objects.all()[:6],
    })


@require_GET
@only("run_office")
def run(request: HttpRequest, run_key) -> HttpResponse:
    ordered = _load(run_key)
    view = queries.order_view(ordered, today=request.today, now=request.now)
    mark_students(request, ordered.sheets.values_list("student", flat=True))
    context = {"room": "office", "view": view}
    return show(request, "progress/office/report_run.html", context, part="progress/office/_report_run.html")


@require_POST
@only("run_office")
def stop(request: HttpRequest, run_key) -> HttpResponse:
    ordered = _load(run_key)
    actions.stop_order(run=ordered, by=request.user)
    return redirect("progress:report-run", run_key=ordered.key)


@require_GET
@only("run_office")
def file(request: HttpRequest, run_key, name: str) -> HttpResponse:
    """One of the two bound files, as long as it is kept."""
    ordered = _load(run_key)
    path = actions.folder_of(ordered) / name
    if not queries.is_still_agreed(ordered, now=request.now):
        messages.warning(request, _("Somebody in these files took a consent back since. Order the reports again."))
        return redirect("progress:report-run", run_key=ordered.key)
    if (
        name not in FILES
        or not queries.order_view(ordered, today=request.today, now=request.now).has_files
        or not path.exists()
    ):
        raise Http404
    mark_students(request, ordered.sheets.filter(state=RunSheet.PRINTED).values_list("student", flat=True))
    return FileResponse(
        path.open("rb"), content_type=FILES[name], as_attachment=True,
        filename=f"{slugify(ordered.term.name)}-{ordered.kind}{path.suffix}",
    )


def _load(run_key) -> ReportRun:
    return get_object_or_404(ReportRun.objects.select_related("term", "asked_by"), key=run_key)
