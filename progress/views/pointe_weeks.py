"""The first weeks on pointe: minutes of a class, a student's step and weeks, the owner's steps."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from progress.actions import pointe_weeks as actions
from progress.drawing.minutes import minutes_svg
from progress.forms.pointe_weeks import MinutesForm, PointeLadderForm, PointeStepForm
from progress.queries.pointe_weeks import class_rows, pointe_ladder, pointe_story
from progress.rules.pointe_weeks import HURTS
from progress.words.speech import names_in_a_row
from studio.actions import Refused
from studio.models import ClassGroup, Consent, Student
from studio.pages import show
from studio.permissions import only, reach_agreed_student, reach_class
from studio.queries import term_on
from studio.templatetags.wording import day


@require_http_methods(["GET", "POST"])
@only("teach")
def of_class(request: HttpRequest, class_id: int) -> HttpResponse:
    """Who of a class is on pointe, on which step, and today's minutes; whoever says that it hurts is reported next."""
    group, term = reach_class(request, class_id), term_on(request.today)
    rows = class_rows(group, term, today=request.today, now=request.now)
    form = MinutesForm(request.POST or None, rows=rows)
    if request.method == "POST" and form.is_valid():
        try:
            hurt = _keep(request, group, form)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("Saved."))
            if hurt[1:]:
                names = names_in_a_row([student.first_name for student in hurt[1:]])
                messages.warning(request, _("Report what hurts for %(names)s, too.") % {"names": names})
            if hurt:
                return redirect("progress:report-pain-of-student", student_id=hurt[0].pk)
            return redirect("progress:class-pointe", class_id=group.pk)
    return show(request, "progress/pointe/class.html", {
        "room": "classes", "class_group": group, "term": term, "form": form, "rows": rows,
    })


def _keep(request: HttpRequest, group: ClassGroup, form: MinutesForm) -> list[Student]:
    """Writes what was typed; gives the students of whom it says for the first time today that it hurts."""
    hurt = []
    for row, minutes, said in form.told():
        actions.log_minutes(
            student=row.student, class_group=group, held_on=request.today, minutes=minutes, said=said, by=request.user
        )
        if said == HURTS and (row.today is None or row.today.said != HURTS):
            hurt.append(row.student)
    return hurt


@require_http_methods(["GET", "POST"])
@only("teach")
def of_student(request: HttpRequest, student_id: int) -> HttpResponse:
    """A student's step, every step and class so far, and the minutes of each week."""
    student = reach_agreed_student(request, student_id, Consent.MEASUREMENTS)
    story = pointe_story(student, today=request.today, now=request.now)
    now = story.row.step
    is_same = now is not None and now.ladder_id == story.ladder.pk
    form = PointeStepForm(
        request.POST or None, steps=story.ladder.steps, initial={"step": now.step if is_same else None}
    )
    if request.method == "POST" and form.is_valid():
        try:
            actions.put_on_step(student=student, on=request.today, by=request.user, **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("Saved."))
            return redirect("progress:student-pointe", student_id=student.pk)
    weeks = [(day(monday), minutes) for monday, minutes in story.weeks]
    return show(request, "progress/pointe/student.html", {
        "room": "classes", "student": student, "story": story, "form": form,
        "drawing": {"minutes": minutes_svg(weeks, title=_("Minutes on pointe, week by week"))},
    })


@require_http_methods(["GET", "POST"])
@only("run_office")
def ladder(request: HttpRequest) -> HttpResponse:
    """The owner's steps for the first weeks; each keeping is another version."""
    now = pointe_ladder()
    form = PointeLadderForm(request.POST or None, steps=now.steps)
    if request.method == "POST" and form.is_valid():
        actions.keep_pointe_ladder(steps=form.ladder_steps, by=request.user)
        messages.success(request, _("Saved. Students keep the step they stand on until a teacher moves them."))
        return redirect("progress:pointe-ladder")
    return show(request, "progress/office/pointe_ladder.html", {"room": "office", "form": form})
