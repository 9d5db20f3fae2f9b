"""The way back into class in steps: a student's step and how she moves, and the owner's ladder."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from progress.actions import returning as actions
from progress.forms.pain import LadderForm, StepForm
from progress.models import ReturnStep
from progress.queries.resting import ladder_in_force, rests
from studio.actions import Refused
from studio.models import Consent
from studio.pages import show
from studio.permissions import load_agreed_student, only


@require_http_methods(["GET", "POST"])
@only("follow_up")
def way_back(request: HttpRequest, student_id: int) -> HttpResponse:
    """Where she is on the ladder, every step she took, and the next one."""
    student = load_agreed_student(request, student_id, Consent.PAIN)
    form = StepForm(request.POST or None, today=request.today, initial={"on": request.today})
    if request.method == "POST" and form.is_valid():
        try:
            _move(student, form.cleaned_data, request.user)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("Kept."))
            return redirect("progress:way-back", student_id=student.pk)
    rows = list(student.return_steps.select_related("ladder", "by").order_by("-pk"))
    now = actions.current_step(student)
    ladder = now.ladder if now else ladder_in_force()
    context = {
        "room": "classes", "student": student, "form": form, "rows": rows, "now": now, "ladder": ladder,
        "steps": list(enumerate(ladder.steps)), "rest": rests([student.pk]).get(student.pk),
    }
    return show(request, "progress/way_back.html", context, status=422 if form.errors else 200)


def _move(student, typed: dict, by) -> None:
    if typed["move"] == ReturnStep.UP:
        actions.move_up(student=student, class_on=typed["on"], note=typed["note"], by=by)
    else:
        actions.move_back(student=student, on=typed["on"], note=typed["note"], by=by)


@require_http_methods(["GET", "POST"])
@only("run_office")
def ladder(request: HttpRequest) -> HttpResponse:
    """The owner's ladder; each keeping is a new version, and says which clinician approved it."""
    now = ladder_in_force()
    loads = [step["loads"] for step in now.steps]
    form = LadderForm(request.POST or None, initial={
        "steps": "\n".join(_(step["words"]) for step in now.steps),
        "loads_both_from": next((at for at, load in enumerate(loads) if load), now.last),
        "loads_one_from": next((at for at, load in enumerate(loads) if load == "one"), now.last),
        "approved_by": now.approved_by, "approved_on": now.approved_on,
    })
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        actions.keep_ladder(
            steps=form.ladder_steps, approved_by=typed["approved_by"], approved_on=typed["approved_on"],
            by=request.user,
        )
        messages.success(request, _("Kept. Who is on the way back stays on the steps she began with."))
        return redirect("progress:return-ladder")
    return show(request, "progress/office/return_ladder.html", {"room": "office", "form": form, "ladder": now},
                status=422 if form.errors else 200)
