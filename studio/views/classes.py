"""Classes and their rosters: who is in, add, move, leave."""
import datetime as dt

from django.contrib import messages
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio import actions, queries
from studio.audit.marks import mark_students
from studio.forms import EnrolForm, LeaveForm, MoveForm, StudentForm
from studio.models import ClassGroup, Enrolment, Student, Term, User
from studio.pages import key_from, show
from studio.permissions import only, reach_class, reach_student, reachable_classes, reachable_students, visit_may


def _shown_term(request: HttpRequest):
    return queries.term_on(request.today)


def reach_enrolment(request: HttpRequest, enrolment_id: int, *, may_be_over: bool = False) -> Enrolment:
    """An enrolment of this term in a class that this person reaches, still running unless said; otherwise 404."""
    enrolments = Enrolment.objects.filter(class_group__in=reachable_classes(request.user), term=_shown_term(request))
    if not may_be_over:
        enrolments = enrolments.filter(Q(left_on__isnull=True) | Q(left_on__gt=request.today))
    enrolment = (
        enrolments.filter(pk=enrolment_id)
        .select_related("student", "class_group", "term")
        .first()
    )
    if enrolment is None:
        raise Http404
    mark_students(request, [enrolment.student_id])
    return enrolment


def _whose_leavings(request: HttpRequest) -> User | None:
    """None where this visit may take back everybody's leaving; else only one's own."""
    return None if visit_may(request, "run_office") else request.user


@require_GET
def class_list(request: HttpRequest) -> HttpResponse:
    term = _shown_term(request)
    classes = list(queries.classes_with_teachers(reachable_classes(request.user)))
    counts = queries.student_counts([c.pk for c in classes], term, request.today)
    rows = [(group, counts[group.pk]) for group in classes]
    return show(request, "studio/classes.html", {"room": "classes", "rows": rows, "term": term})


@require_GET
def class_roster(request: HttpRequest, class_id: int) -> HttpResponse:
    """The class of this term, or, before a coming term's first day, of that one."""
    group = reach_class(request, class_id)
    term = queries.term_asked_for(key_from(request.GET.get("term", "")), today=request.today)
    here = queries.roster(group, term, request.today).prefetch_related("student__guardians")
    left = queries.leavings(group, term, request.today, by=_whose_leavings(request)).for_a_day_at_least()
    return show(request, "studio/roster.html", {
        "room": "classes", "class_group": group, "term": term, "enrolments": list(here),
        "left": left.select_related("student"), "is_now": term == _shown_term(request),
        "coming": queries.coming_terms(group, today=request.today),
    })


@require_http_methods(["GET", "POST"])
@only("edit_roster")
def add_student(request: HttpRequest, class_id: int) -> HttpResponse:
    """A new student, or one whom this person reaches already, into the class."""
    group, term = reach_class(request, class_id), _shown_term(request)
    if term is None:
        messages.warning(request, _("Make a term first: students join a class for a term."))
        return redirect("studio:class-roster", class_id=group.pk)
    if request.POST.get("student"):
        return _enrol_known(request, group, term)
    reach = reachable_students(request.user, today=request.today)
    form = StudentForm(request.POST or None, today=request.today, reach=reach)
    enrol_form = EnrolForm(request.POST or None, initial={"joined_on": request.today})
    if request.method == "POST" and form.is_valid() and enrol_form.is_valid():
        try:
            actions.add_student(
                student=form.save(commit=False), class_group=group, term=term,
                joined_on=enrol_form.cleaned_data["joined_on"], by=request.user,
            )
        except actions.Refused as refused:
            form.add_error("name", str(refused))
        else:
            return _is_in(request, form.instance, group)
    here = Enrolment.objects.filter(class_group=group, term=term, left_on__isnull=True)
    others = reach.exclude(pk__in=here.values("student")).order_by("name")
    mark_students(request, [other.pk for other in others])
    return show(request, "studio/add_student.html", {
        "room": "classes", "class_group": group, "term": term, "form": form, "enrol_form": enrol_form,
        "others": others,
    })


def _enrol_known(request: HttpRequest, group: ClassGroup, term: Term) -> HttpResponse:
    student_id = key_from(request.POST["student"])
    if student_id is None:
        raise Http404
    student = reach_student(request, student_id)
    actions.enrol(student=student, class_group=group, term=term, joined_on=request.today, by=request.user)
    return _is_in(request, student, group)


def _is_in(request: HttpRequest, student: Student, group: ClassGroup) -> HttpResponse:
    messages.success(request, _("%(name)s is in %(class)s now.") % {"name": student, "class": group})
    return redirect("studio:class-roster", class_id=group.pk)


@require_http_methods(["GET", "POST"])
@only("edit_roster")
def leave_class(request: HttpRequest, enrolment_id: int) -> HttpResponse:
    enrolment = reach_enrolment(request, enrolment_id)
    form = LeaveForm(request.POST or None, instance=enrolment, initial={"left_on": request.today})
    if request.method == "POST" and form.is_valid():
        actions.leave_class(enrolment=enrolment, left_on=form.cleaned_data["left_on"], by=request.user)
        messages.success(request, _("%(name)s has left. Their results stay. You can take the leaving back below.") % {
            "name": enrolment.student})
        return redirect("studio:class-roster", class_id=enrolment.class_group_id)
    return show(request, "studio/leave_class.html", {"room": "classes", "enrolment": enrolment, "form": form})


@require_http_methods(["GET", "POST"])
@only("edit_roster")
def move_class(request: HttpRequest, enrolment_id: int) -> HttpResponse:
    enrolment = reach_enrolment(request, enrolment_id)
    classes = reachable_classes(request.user).exclude(pk=enrolment.class_group_id)
    form = MoveForm(request.POST or None, classes=classes, initial={"moved_on": request.today})
    if request.method == "POST" and form.is_valid():
        actions.move_student(
            enrolment=enrolment, class_group=form.cleaned_data["class_group"],
            moved_on=form.cleaned_data["moved_on"], by=request.user,
        )
        messages.success(request, _("%(name)s has moved.") % {"name": enrolment.student})
        return redirect("studio:class-roster", class_id=enrolment.class_group_id)
    return show(request, "studio/move_class.html", {"room": "classes", "enrolment": enrolment, "form": form})


@require_POST
@only("edit_roster")
def return_to_class(request: HttpRequest, enrolment_id: int) -> HttpResponse:
    enrolment = reach_enrolment(request, enrolment_id, may_be_over=True)
    mine = queries.leavings(enrolment.class_group, enrolment.term, dt.date.max, by=_whose_leavings(request))
    if enrolment.left_on is not None and not mine.filter(pk=enrolment.pk).exists():
        raise Http404
    try:
        actions.return_to_class(enrolment=enrolment, by=request.user)
    except actions.Refused as refused:
        messages.warning(request, str(refused))
    else:
        messages.success(request, _("%(name)s is back in the class.") % {"name": enrolment.student})
    return redirect("studio:class-roster", class_id=enrolment.class_group_id)
