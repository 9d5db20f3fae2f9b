"""The way back into class in steps: a student's step and the next one, and the owner's ladder."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from progress.actions import returning as actions
from progress.drawing.stairs import stairs
from progress.forms.way_back import ClearanceForm, LadderForm, StepForm
from progress.models import ReturnStep
from progress.queries.resting import ladder_in_force, rests
from progress.queries.way_back import classes_since, clearance_words, heading, may_go_up, steps_to_show
from studio.actions import Refused
from studio.models import Consent
from studio.pages import show
from studio.permissions import only, reach_agreed_student


@require_http_methods(["GET", "POST"])
@only("follow_up")
def way_back(request: HttpRequest, student_id: int) -> HttpResponse:
    """Where a student is on the ladder, every step so far, and the next one."""
    student = reach_agreed_student(request, student_id, Consent.PAIN)
    now = actions.current_step(student)
    is_clearance = request.method == "POST" and "said_by" in request.POST
    classes = list(classes_since(student, now, request.today)) if now else []
    form = StepForm(request.POST if request.method == "POST" and not is_clearance else None, classes=classes)
    new = ClearanceForm(request.POST if is_clearance else None, auto_id="new_%s")
    asked = new if is_clearance else form
    if request.method == "POST" and asked.is_valid():
        try:
            _renew(request, student, new) if is_clearance else _move(request, student, form)
        except Refused as refused:
            asked.add_error(None, str(refused))
        else:
            messages.success(request, _("Saved."))
            return redirect("progress:way-back", student_id=student.pk)
    ladder = now.ladder if now else ladder_in_force()
    steps = list(steps_to_show(ladder, student))
    rest = rests([student.pk], now=request.now).get(student.pk)
    return show(request, "progress/way_back.html", {
        "room": "classes", "student": student, "form": form, "new": new, "now": now, "ladder": ladder,
        "rows": student.return_steps.select_related("ladder", "by").order_by("-pk"), "has_class": bool(classes),
        "steps": steps, "drawing": {"stairs": _stairs(steps, now)},
        "rest": rest, "heading": heading(now, ladder, is_pain=bool(rest and rest.is_pain)),
        "allowed": clearance_words(now.clearance) if now and now.clearance else "",
        "may_go_up": bool(now) and may_go_up(student, now),
    })


def _stairs(steps: list, now: ReturnStep | None) -> str:
    """The steps as a staircase, the present one marked."""
    at = next((place for place, (number, _step) in enumerate(steps, start=1) if now and number == now.step), None)
    return stairs(len(steps), at)


def _move(request: HttpRequest, student, form: StepForm) -> None:
    typed = form.cleaned_data
    if typed["move"] == ReturnStep.UP:
        actions.move_up(
            student=student, class_log=form.logs[typed["class_log"]], today=request.today, note=typed["note"],
            by=request.user,
        )
    else:
        actions.move_back(student=student, on=request.today, note=typed["note"], by=request.user)


def _renew(request: HttpRequest, student, form: ClearanceForm) -> None:
    actions.renew_clearance(student=student, note="", on=request.today, by=request.user, **form.cleaned_data)


@require_http_methods(["GET", "POST"])
@only("run_office")
def ladder(request: HttpRequest) -> HttpResponse:
    """The owner's ladder; each keeping is a new version, and says which clinician approved it."""
    now = ladder_in_force()
    form = LadderForm(request.POST or None, steps=now.steps, initial={
        "approved_by": now.approved_by, "approved_on": now.approved_on,
    })
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        actions.keep_ladder(
            steps=form.ladder_steps, approved_by=typed["approved_by"], approved_on=typed["approved_on"],
            by=request.user,
        )
        messages.success(request, _("Saved. Students already on the way back keep the steps they began with."))
        return redirect("progress:return-ladder")
    return show(request, "progress/office/return_ladder.html", {"room": "office", "form": form, "ladder": now})
