"""A class's programme: what it works on this term, for whom it differs, what is suggested and why; its card."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from progress.actions.classwork import programme as actions
from progress.forms.classwork import PlanForm, StepMoveForm
from progress.models import ProgrammeEntry
from progress.papers import paper
from progress.queries.classwork.exercises import versions_by_exercise
from progress.queries.classwork.how_often import how_often
from progress.queries.classwork.programme import planned_exercises, planned_rows
from progress.queries.classwork.steps import step_prompts
from progress.queries.classwork.suggestions import ClassNeeds, suggested
from progress.rules.dose import Dose
from studio.actions import Refused
from studio.audit.marks import mark_class
from studio.models import ClassGroup, Student, Term
from studio.pages import show
from studio.permissions import only, reach_class, reach_student, reachable_classes
from studio.queries import barre_names, roster, term_on


def _students(request: HttpRequest, group: ClassGroup, term: Term | None) -> list[Student]:
    return [enrolment.student for enrolment in roster(group, term, request.today)]


def _of_class(students: list[Student]):
    return Student.objects.filter(pk__in=[student.pk for student in students])


@require_GET
@only("teach")
def programme(request: HttpRequest, class_id: int) -> HttpResponse:
    group, term = reach_class(request, class_id), term_on(request.today)
    return _page(request, group, term, _students(request, group, term))


def _page(request: HttpRequest, group: ClassGroup, term: Term | None, students, form=None) -> HttpResponse:
    context = {"room": "classes", "class_group": group, "term": term}
    if term is not None:
        versions, names = versions_by_exercise(), barre_names(students)
        planned = planned_exercises(group, term, students, versions)
        needs = ClassNeeds(group, term, names, today=request.today, now=request.now)
        for_class, for_students = suggested(needs, students, planned, versions)
        prompts = step_prompts(group, term, students, planned, versions, today=request.today, now=request.now)
        context |= {
            "rows": planned_rows(planned, names), "for_class": for_class, "for_students": for_students,
            "groups": needs.groups(versions), "form": form or PlanForm(students=_of_class(students)),
            "versions": [v for v in versions.values() if v.exercise.is_offered],
            "students": [(s, names[s.pk]) for s in students],
            "how_often": how_often(group, term, today=request.today),
            "prompts": [
                (each, [(s, names[s.pk]) for s in each.students], [(names[s.pk], may) for s, may in each.held])
                for each in prompts
            ],
        }
    return show(request, "progress/classwork/programme.html", context, status=422 if form is not None else 200)


@require_POST
@only("teach")
def plan_exercise(request: HttpRequest, class_id: int) -> HttpResponse:
    """Takes an exercise in, or changes its dose, for the class or for one student."""
    group, term = reach_class(request, class_id), term_on(request.today)
    students = _students(request, group, term)
    form = PlanForm(request.POST, students=_of_class(students))
    if term is None or not form.is_valid():
        return _page(request, group, term, students, form)
    cleaned = form.cleaned_data
    step, exercise = cleaned["step"], cleaned["exercise"]
    if step is not None and step.exercise_id != exercise.pk:
        step = None
    dose = Dose(cleaned["sets"], cleaned["reps"], cleaned["hold_seconds"]) if cleaned["sets"] else None
    if step is not None and dose not in (None, step.dose):
        step = None
    given = step or exercise.versions.order_by("-version").first()
    actions.plan_exercise(
        class_group=group, term=term, exercise=exercise, student=cleaned["student"], dose=dose or given.dose, step=step,
        note=cleaned["note"] or (step.note if step else ""), reason=cleaned["reason"],
        is_spared=cleaned["is_spared"], added_on=request.today, by=request.user,
    )
    return redirect("progress:programme", class_id=group.pk)


def load_entry(request: HttpRequest, entry_id: int) -> ProgrammeEntry:
    """An entry of a class that this person reaches, about nobody out of their reach; otherwise 404."""
    rows = ProgrammeEntry.objects.filter(class_group__in=reachable_classes(request.user))
    entry = get_object_or_404(rows.select_related("class_group"), pk=entry_id)
    if entry.student_id is not None:
        reach_student(request, entry.student_id)
    else:
        mark_class(request, entry.class_group_id)
    return entry


@require_POST
@only("teach")
def leave_out(request: HttpRequest, entry_id: int) -> HttpResponse:
    entry = load_entry(request, entry_id)
    actions.leave_out(entry=entry, by=request.user)
    return redirect("progress:programme", class_id=entry.class_group_id)


@require_POST
@only("teach")
def move_in_order(request: HttpRequest, entry_id: int) -> HttpResponse:
    entry = load_entry(request, entry_id)
    actions.move_in_order(entry=entry, earlier=request.POST.get("to") != "later", by=request.user)
    return redirect("progress:programme", class_id=entry.class_group_id)


@require_POST
@only("teach")
def move_to_step(request: HttpRequest, class_id: int) -> HttpResponse:
    """Up or down a ladder: those who are ticked, or the class as a whole."""
    group, term = reach_class(request, class_id), term_on(request.today)
    form = StepMoveForm(request.POST, students=_of_class(_students(request, group, term)))
    if term is not None and form.is_valid():
        _move(request, group, term, form.cleaned_data)
    else:
        messages.warning(request, _("Nobody was moved. Tick who moves."))
    return redirect("progress:programme", class_id=group.pk)


def _move(request: HttpRequest, group: ClassGroup, term: Term, cleaned: dict) -> None:
    try:
        actions.move_to_step(
            class_group=group, term=term, step=cleaned["to"], away_from=cleaned["at"].exercise,
            students=None if cleaned["whole_class"] else list(cleaned["students"]), reason=cleaned["reason"],
            added_on=request.today, by=request.user,
        )
    except Refused as no:
        messages.warning(request, str(no))


def card_rows(request: HttpRequest, group: ClassGroup, term: Term | None) -> dict[str, object]:
    """What stands on the barre card: the class's exercises with each dose, and who works on what together."""
    students = _students(request, group, term)
    names, versions = barre_names(students), versions_by_exercise()
    return {
        "rows": planned_rows(planned_exercises(group, term, students, versions), names) if term else (),
        "groups": ClassNeeds(group, term, names, today=request.today, now=request.now).groups(versions) if term else (),
    }


@require_GET
@only("teach")
def card(request: HttpRequest, class_id: int) -> HttpResponse:
    """The programme on one page for the barre: no verdict, no reason, nothing about pain."""
    group, term = reach_class(request, class_id), term_on(request.today)
    return show(request, "progress/classwork/barre_card.html", {
        "room": "classes", "class_group": group, "term": term, "sizes": paper.SIZES, **card_rows(request, group, term),
    })
