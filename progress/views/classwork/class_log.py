"""The log of a class at the barre: one screen; every tap is a form of its own, for the page and for the outbox."""
import datetime as dt
from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from progress.actions.classwork import class_log as actions
from progress.actions.classwork.asking import said_fine
from progress.actions.day import ClassDay, state_attendance
from progress.actions.day import take_back as take_back_tap
from progress.forms.classwork import LogAskedForm, LogAsPlannedForm, LogChangeForm, LogTakeBackForm, TapForm
from progress.models import Attendance, Exercise, FollowUp, LogEntry
from progress.queries import agreed_follow_ups
from progress.queries.barre.out import Out, out_of
from progress.queries.classwork import class_log as queries
from progress.queries.classwork.asking import asked_in_class
from screening.forms import new_key
from studio.actions import Refused
from studio.ledger import Conflict
from studio.models import ClassGroup, Student
from studio.pages import is_from_outbox, kept, key_from, moment_of_tap, refused, show
from studio.permissions import only, reach_class, reachable_students
from studio.queries import barre_order, term_on


@require_GET
@only("teach")
def log(request: HttpRequest, class_id: int) -> HttpResponse:
    """Tonight's class, or another of the last two weeks."""
    group = reach_class(request, class_id)
    day, students, out = _day_of(request, group)
    stamp, view = _looked_at(request, day, students, out)
    shown = request.GET.get("exercise", "")
    if shown not in {each.key for each in view.exercises}:
        shown = ""
    chosen = key_from(request.GET.get("student", ""))
    return show(
        request,
        "progress/barre/log.html",
        {
            "room": "classes",
            "class_group": group,
            "on": day.held_on,
            "view": view,
            "shown": shown,
            "new_key": new_key,
            "stamp": stamp,
            "out": out.told,
            "asked": asked_in_class(students, day.held_on, now=request.now),
            "chosen": next((each for each in view.came if each.student.pk == chosen), None),
        },
    )


@require_GET
@only("teach")
def news(request: HttpRequest, class_id: int) -> HttpResponse:
    """Every tile of the log, for the other tablets; 204 while nothing was tapped since the stamp they name."""
    group = reach_class(request, class_id)
    day, students, out = _day_of(request, group)
    if request.GET.get("seen") == queries.stamp(group, day.held_on, out):
        return HttpResponse(status=204)
    stamp, view = _looked_at(request, day, students, out)
    return JsonResponse({"stamp": stamp, "results": queries.told_tiles(view), "out": out.told})


def _day(request: HttpRequest) -> dt.date:
    """The day that is asked for, today where it is none that may be logged."""
    tapped = TapForm({"key": new_key(), "on": request.GET.get("on", "")}, today=request.today)
    return tapped.cleaned_data["on"] if tapped.is_valid() else request.today


def _day_of(request: HttpRequest, group: ClassGroup) -> tuple[ClassDay, list[Student], Out]:
    """The day that is looked at, its students, and who of them is out."""
    on = _day(request)
    day = ClassDay(group, term_on(on), on)
    students = _students(request, day)
    return day, students, out_of(group, students, on, now=request.now)


def _looked_at(
    request: HttpRequest, day: ClassDay, students: list[Student], out: Out
) -> tuple[str, queries.LogView]:
    """The stamp and the log as it stands: the stamp first, so that a tap in between is told once more."""
    stamp = queries.stamp(day.class_group, day.held_on, out)
    return stamp, queries.log_view(day.class_group, day.term, day.held_on, students, by=request.user, now=request.now)


def _students(request: HttpRequest, day: ClassDay) -> list[Student]:
    """The children of the class on its day whom this person reaches, as they stand at the barre."""
    reach = set(reachable_students(request.user, today=request.today).values_list("pk", flat=True))
    return [each.student for each in barre_order(day.class_group, day.term, day.held_on) if each.student_id in reach]


def _chosen(request: HttpRequest, day: ClassDay, name: str) -> list[Student]:
    """The students that a form names; 404 where one is not of this class or out of reach."""
    here = {student.pk: student for student in _students(request, day)}
    keys = [key_from(text) for text in request.POST.getlist(name)]
    if not set(keys) <= set(here):
        raise Http404
    return [here[key] for key in dict.fromkeys(keys)]


@require_POST
@only("teach")
def attendance(request: HttpRequest, class_id: int) -> HttpResponse:
    def act(form, day):
        present, absent = (_chosen(request, day, name) for name in ("present", "absent"))
        rows = state_attendance(
            key=form.cleaned_data["key"], day=day, present=present, absent=absent, by=request.user,
            tapped_at=moment_of_tap(request),
        )
        return {"attendance": queries.told_attendance(rows)}

    return _tap(request, reach_class(request, class_id), TapForm, act)


@require_POST
@only("teach")
def as_planned(request: HttpRequest, class_id: int) -> HttpResponse:
    def act(form, day):
        exercise = get_object_or_404(Exercise, key=form.cleaned_data["exercise"])
        students = _chosen(request, day, "students")
        rows = actions.log_as_planned(
            key=form.cleaned_data["key"], day=day, exercise=exercise, students=students, by=request.user,
            tapped_at=moment_of_tap(request),
        )
        return {"results": queries.told(rows), "resting": queries.told_resting(exercise, students, now=request.now)}

    return _tap(request, reach_class(request, class_id), LogAsPlannedForm, act)


@require_POST
@only("teach")
def change(request: HttpRequest, class_id: int) -> HttpResponse:
    """What one student did otherwise: one tap, one row."""
    def act(form, day):
        cleaned = form.cleaned_data
        [student] = _chosen(request, day, "student")
        row = actions.log_change(
            key=cleaned["key"], day=day, exercise=get_object_or_404(Exercise, key=cleaned["exercise"]),
            student=student, change=cleaned["change"], by=request.user, tapped_at=moment_of_tap(request),
        )
        return {"results": queries.told([row])}

    return _tap(request, reach_class(request, class_id), LogChangeForm, act)


@require_POST
@only("teach")
def take_back(request: HttpRequest, class_id: int) -> HttpResponse:
    def act(form, day):
        taken = take_back_tap(
            key=form.cleaned_data["key"], of=form.cleaned_data["of"], day=day, by=request.user,
            tapped_at=moment_of_tap(request),
        )
        came, did = ([row for row in taken if isinstance(row, model)] for model in (Attendance, LogEntry))
        return {"attendance": queries.told_attendance(came), "results": queries.told(did)}

    return _tap(request, reach_class(request, class_id), LogTakeBackForm, act)


@require_POST
@only("teach")
def asked(request: HttpRequest, class_id: int) -> HttpResponse:
    """Somebody who told of pain before was asked in class, and is fine."""
    def act(form, day):
        here = _students(request, day)
        rows = FollowUp.objects.filter(student__in=here, kind__in=[FollowUp.PAIN_WATCHED, FollowUp.PAIN_LASTS])
        follow_up = get_object_or_404(agreed_follow_ups(rows, at=timezone.now()), pk=form.cleaned_data["follow_up"])
        said_fine(follow_up=follow_up, on=day.held_on, by=request.user)
        return {"results": []}

    return _tap(request, reach_class(request, class_id), LogAskedForm, act)


def _tap(request: HttpRequest, group: ClassGroup, form_class: type[TapForm], act: Callable) -> HttpResponse:
    """One tap: stored and told to the outbox or shown on the page; or refused with a sentence."""
    form = form_class(request.POST, today=request.today)
    if not form.is_valid():
        why = _("This entry cannot be read: something in it is missing or wrong.")
        return _refused(request, group, " ".join(form.errors.get("on", ())) or why, 422)
    on = form.cleaned_data["on"]
    try:
        result = act(form, ClassDay(group, term_on(on), on))
    except Refused as no:
        return _refused(request, group, str(no), 422)
    except Conflict:
        return _refused(request, group, _("This was sent before with other contents. The first one stays."), 409)
    return kept(request, result=result) if is_from_outbox(request) else _back(request, group)


def _refused(request: HttpRequest, group: ClassGroup, why: str, status: int) -> HttpResponse:
    if is_from_outbox(request):
        return refused(why, status=status)
    messages.warning(request, why)
    return _back(request, group)


def _back(request: HttpRequest, group: ClassGroup) -> HttpResponse:
    """To the log as it was looked at: its day and its exercise."""
    about = {name: request.POST[name] for name in ("on", "exercise") if request.POST.get(name)}
    return redirect(f"{reverse('progress:class-log', args=[group.pk])}?{urlencode(about)}")
