"""A copy of everything about one student, to hand to the family; decides only who may have it."""
import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods

from progress.actions.papers.report_pages import printed_words
from progress.papers import everything_page, paper, workbook
from progress.papers.record_page import record_html
from progress.queries.everything import everything_in_words
from progress.queries.everything.others import cleared_entry, cleared_table, sentences_about_others, without
from progress.queries.hanging import everything_about
from progress.queries.papers.letter import in_her_language
from progress.queries.papers.spreadsheets import student_rows
from progress.queries.papers.term_report import student_record
from progress.words.speech import voice_for
from studio.audit.marks import mark_students
from studio.models import ClassGroup, Student, Term
from studio.pages import show
from studio.permissions import only, reach_student


@require_http_methods(["GET", "POST"])
@only("run_office", password=True)
def student_copy(request: HttpRequest, student_id: int) -> HttpResponse:
    """A ZIP: a readable PDF in the family's language, each term's record, every row as JSON, the results as CSV.

    Sentences that name another student are shown first; none goes along but those that are ticked.
    """
    student = reach_student(request, student_id)
    if paper.MISSING:
        return show(request, "progress/paper/missing.html", {"room": "classes"}, status=503)
    about_others, named = sentences_about_others(student)
    if about_others and request.method == "GET":
        mark_students(request, named)
        return show(request, "progress/office/copy.html", {
            "room": "office", "student": student, "sentences": about_others,
        })
    goes_along = set(request.POST.getlist("goes"))
    cleared = without(each for each in about_others if each.key not in goes_along)
    tables = [cleared_table(table, cleared) for table in everything_about(student)]
    archive = everything_page.packed({
        "everything.pdf": _readable(request, student, cleared),
        "everything.json": everything_page.everything_json(student.name, tables).encode(),
        "results.csv": cleared(f"\ufeff{workbook.results_csv(student_rows(student))}").encode(),
        **_records(request, student, cleared),
    })
    answer = HttpResponse(archive, content_type="application/zip")
    answer.headers["Content-Disposition"] = f'attachment; filename="{slugify(student.name) or "student"}.zip"'
    return answer


def _readable(request: HttpRequest, student: Student, cleared: Callable[[str], str]) -> bytes:
    """In the family's language."""
    with in_her_language(student, request.studio):
        sections = [
            replace(section, entries=tuple(cleared_entry(entry, cleared) for entry in section.entries))
            for section in everything_in_words(student)
        ]
        how = {"studio": request.studio.name, "printed": printed_words(request.today)}
        return _printed(partial(everything_page.everything_html, student.name, sections, **how))


def _records(request: HttpRequest, student: Student, cleared: Callable[[str], str]) -> dict[str, bytes]:
    made = {}
    for term in Term.objects.filter(enrolments__student=student).distinct():
        record = student_record(student, term, studio=request.studio, classes=ClassGroup.objects.all(), now=request.now)
        page = cleared(record_html(record, printed=printed_words(request.today), voice=voice_for(term)))
        made[f"record-{slugify(term.name) or term.pk}.pdf"] = _printed(lambda *, is_lacking, page=page: page)
    return made


def _printed(page: Callable[..., str]) -> bytes:
    """A letter that our paper lacks does not keep the copy from the family: it stands as a gap."""
    try:
        return paper.pdf(page(is_lacking=False))
    except paper.NotOurLetters as lacking:
        return paper.pdf(re.sub(f"[{re.escape(lacking.letters)}]+", paper.LEFT_OUT, page(is_lacking=True)))
