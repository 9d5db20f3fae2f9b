"""A student's guardians."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from studio import actions
from studio.forms import GuardianForm
from studio.pages import show
from studio.permissions import only, reach_student, visit_may


@require_http_methods(["GET", "POST"])
@only("edit_roster")
def edit_guardian(request: HttpRequest, student_id: int, guardian_id: int | None = None) -> HttpResponse:
    student = reach_student(request, student_id)
    guardian = get_object_or_404(student.guardians, pk=guardian_id) if guardian_id else None
    form = GuardianForm(request.POST or None, instance=guardian)
    if request.method == "POST" and form.is_valid():
        kept = actions.save_guardian(guardian=form.save(commit=False), student=student, by=request.user)
        messages.success(request, _("Saved."))
        # Whom else a guardian has is for the office to know: a teacher may not reach the other child.
        if guardian is None and visit_may(request, "run_office") and kept.students.count() > 1:
            words = _("%(name)s is on record already, for another child. One card opens the pages of both.")
            messages.info(request, words % {"name": kept.name})
        return redirect("progress:edit-student", student_id=student.pk)
    context = {"room": "classes", "student": student, "form": form, "guardian": guardian}
    return show(request, "studio/guardian.html", context)
