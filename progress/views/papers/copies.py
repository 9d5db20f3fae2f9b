"""A copy of everything about one student, to hand to her family; decides only who may have it."""
from django.http import HttpRequest, HttpResponse
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from progress.papers import everything_page, paper, workbook
from progress.papers.record_page import record_html
from progress.queries.hanging import everything_about
from progress.queries.papers.term_data import student_rows
from progress.queries.papers.term_report import student_record
from progress.speech import voice_for
from studio.models import ClassGroup, Student, Term
from studio.pages import show
from studio.permissions import load_student, only
from studio.templatetags.wording import full_day


@require_GET
@only("run_office")
def student_copy(request: HttpRequest, student_id: int) -> HttpResponse:
    """A ZIP: a readable PDF of everything, each term's record, the rows as JSON, the results as CSV."""
    student = load_student(request, student_id)
    if paper.MISSING:
        return show(request, "progress/paper/missing.html", {"room": "classes"}, status=503)
    tables = everything_about(student)
    printed = _("Printed %(day)s") % {"day": full_day(request.today)}
    readable = everything_page.everything_html(student.name, tables, studio=request.studio.name, printed=printed)
    archive = everything_page.packed({
        "everything.pdf": paper.pdf(readable),
        "everything.json": everything_page.everything_json(student.name, tables).encode(),
        "results.csv": f"\ufeff{workbook.results_csv(student_rows(student))}".encode(),
        **_records(request, student, printed),
    })
    answer = HttpResponse(archive, content_type="application/zip")
    answer.headers["Content-Disposition"] = f'attachment; filename="{slugify(student.name) or "student"}.zip"'
    return answer


def _records(request: HttpRequest, student: Student, printed: str) -> dict[str, bytes]:
    made = {}
    for term in Term.objects.filter(enrolments__student=student).distinct():
        record = student_record(student, term, studio=request.studio, classes=ClassGroup.objects.all())
        name = f"record-{slugify(term.name) or term.pk}.pdf"
        made[name] = paper.pdf(record_html(record, printed=printed, voice=voice_for(term)))
    return made
