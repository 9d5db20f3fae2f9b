"""Writing the family letter: what the family will read beside the box for the teacher's own words."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from progress.actions.papers.letters import write_letter_text
from progress.forms.letters import LetterForm
from progress.queries.family import family_page
from progress.queries.papers.letter import in_her_language, reason_for_no_letter, texts_of
from progress.views.papers.student import term_of
from studio.actions import Refused
from studio.models import Student, Term
from studio.pages import show
from studio.permissions import only, reach_student


@require_http_methods(["GET", "POST"])
@only("teach")
def write(request: HttpRequest, student_id: int) -> HttpResponse:
    """The words that stand, every version of them, and the letter to look at."""
    student, term = reach_student(request, student_id), term_of(request)
    versions = texts_of(student, term)
    last = versions[0] if versions else None
    form = LetterForm(
        request.POST or None, initial={"text": last.text if last else "", "after": last.pk if last else None}
    )
    if request.method == "POST" and form.is_valid():
        try:
            write_letter_text(student=student, term=term, by=request.user, **form.cleaned_data)
        except Refused as refused:
            form.data = form.data.copy()
            form.data["after"] = last.pk if last else ""
            form.add_error("text", str(refused))
        else:
            messages.success(request, _("Saved."))
            return redirect(f"{reverse('progress:write-letter', args=[student.pk])}?term={term.pk}")
    return _page(request, student, term, form, versions)


def _page(request: HttpRequest, student: Student, term: Term, form: LetterForm, versions: list) -> HttpResponse:
    with in_her_language(student, request.studio):
        page = family_page(student, term, at=timezone.now(), today=request.today)
        language = translation.get_language()
    return show(request, "progress/letter.html", {
        "room": "classes", "student": student, "term": term, "form": form, "versions": versions, "words": page.words,
        "language": language, "is_foreign": language.split("-")[0] != request.studio.language_code.split("-")[0],
        "language_name": translation.get_language_info(language)["name_local"],
        "reason": reason_for_no_letter(student, term, agreed=page.agreed),
    })
