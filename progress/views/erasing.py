"""Everything that is kept about one student: as a copy to hand over, and erased for good."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from progress.actions.erasing import FEWEST_OTHERS, erase_student, tidy_database
from progress.forms.erasing import EraseForm
from progress.models import Erasure
from studio.audit.marks import mark_outcome
from studio.audit.models import AuditRow
from studio.pages import show
from studio.permissions import load_student, only


@require_http_methods(["GET", "POST"])
@only("run_office")
def erase(request: HttpRequest, student_id: int) -> HttpResponse:
    """Asks for her name first, for nothing of this can be taken back."""
    student = load_student(request, student_id)
    form = EraseForm(request.POST or None, student=student)
    if request.method == "POST" and form.is_valid():
        erasure = erase_student(student=student, by=request.user)
        tidy_database()
        mark_outcome(request, AuditRow.ERASED)
        messages.success(request, _("Erased. Print this page for whoever asked."))
        return redirect("progress:erasure", erasure_id=erasure.pk)
    return show(request, "progress/office/erase.html", {
        "room": "office", "student": student, "form": form, "fewest": FEWEST_OTHERS,
    }, status=422 if form.errors else 200)


@require_GET
@only("run_office")
def certificate(request: HttpRequest, erasure_id: int) -> HttpResponse:
    erasure = get_object_or_404(Erasure.objects.select_related("erased_by"), pk=erasure_id)
    return show(request, "progress/office/erasure.html", {"room": "office", "erasure": erasure})
