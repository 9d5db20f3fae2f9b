"""The owner's office: terms, classes, people and the studio itself."""
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio import actions, queries
from studio.audit.marks import mark_outcome, mark_students
from studio.audit.models import AuditRow
from studio.entrance.actions import keep_account
from studio.entrance.second_factor import has_second_factor
from studio.family.queries import due_for_erasure
from studio.forms import (
    ClassForm,
    EditPersonForm,
    HolidayForm,
    MeetingForm,
    NewPersonForm,
    StudioForm,
    TermForm,
)
from studio.models import ClassGroup, ClassMeeting, Holiday, Term, User
from studio.pages import show
from studio.permissions import only
from studio.upkeep.wellness import desk_words


@require_GET
@only("run_office")
def office(request: HttpRequest) -> HttpResponse:
    return show(request, "studio/office.html", {
        "room": "office",
        "terms": Term.objects.prefetch_related("holidays"),
        "classes": queries.classes_with_teachers(ClassGroup.objects.all()),
        "people": User.objects.order_by("-is_active", "name").prefetch_related("class_groups"),
        "due_count": len(due_for_erasure(request.studio, today=request.today)),
        "upkeep_words": desk_words(request.now),
    })


@require_http_methods(["GET", "POST"])
@only("run_office")
def all_students(request: HttpRequest) -> HttpResponse:
    """Everybody, or whom the search finds; what was typed is sent in a form, so that no address holds a name."""
    matching, term = request.POST.get("name", "").strip()[:120], queries.term_on(request.today)
    by_state = queries.students_by_state(term, request.today)
    students = queries.students_with_enrolments(by_state, matching=matching)[:500]
    mark_students(request, [student.pk for student in students])
    # A search changes nothing, however it was sent.
    mark_outcome(request, AuditRow.SAW)
    return show(request, "studio/students.html", {
        "room": "office", "students": students, "matching": matching,
        "people_in_words": queries.people_in_words(term, request.today),
        "state_words": {queries.DANCING: _("dancing"), queries.PAUSED: _("paused"), queries.LEFT: _("left")},
    })


def _edit(request: HttpRequest, form, page: str, context: dict, save, done: str) -> HttpResponse:
    """The usual way of a form: shown, shown again with its errors, or kept."""
    if request.method == "POST" and form.is_valid():
        answer = save(form)
        messages.success(request, done)
        return answer or redirect("studio:office")
    return show(request, page, {"room": "office", "form": form, **context})


def _back_to_steps(request: HttpRequest, made: Term | ClassGroup) -> HttpResponse | None:
    """The first page, which leads on, for what was made while no class has anybody yet; else None."""
    is_first = not type(made).objects.exclude(pk=made.pk).exists()
    return redirect("progress:today") if is_first and not queries.has_students(queries.term_on(request.today)) else None


@require_http_methods(["GET", "POST"])
@only("run_office")
def edit_studio(request: HttpRequest) -> HttpResponse:
    form = StudioForm(request.POST or None, instance=request.studio)
    context = {"title": _("The studio")}
    return _edit(request, form, "studio/edit_form.html", context, lambda f: f.save() and None, _("Saved."))


@require_http_methods(["GET", "POST"])
@only("run_office")
def edit_term(request: HttpRequest, term_id: int | None = None) -> HttpResponse:
    term = get_object_or_404(Term, pk=term_id) if term_id else None
    form = TermForm(request.POST or None, instance=term)
    before = Term.objects.filter(starts_on__lt=term.starts_on).order_by("-starts_on").first() if term else None
    context = {"term": term, "holiday_form": HolidayForm(), "before": before}
    return _edit(
        request, form, "studio/term.html", context,
        lambda f: _back_to_steps(request, f.save()) or redirect("studio:edit-term", term_id=f.instance.pk),
        _("The term is saved."),
    )


@require_POST
@only("run_office")
def add_holiday(request: HttpRequest, term_id: int) -> HttpResponse:
    term = get_object_or_404(Term, pk=term_id)
    form = HolidayForm(request.POST, instance=Holiday(term=term))
    if form.is_valid():
        form.save()
        messages.success(request, _("Saved."))
        return redirect("studio:edit-term", term_id=term.pk)
    context = {"room": "office", "form": TermForm(instance=term), "term": term, "holiday_form": form}
    return show(request, "studio/term.html", context)


@require_POST
@only("run_office")
def remove_holiday(request: HttpRequest, holiday_id: int) -> HttpResponse:
    holiday = get_object_or_404(Holiday, pk=holiday_id)
    term_id = holiday.term_id
    holiday.delete()
    return redirect("studio:edit-term", term_id=term_id)


@require_POST
@only("run_office")
def carry_over(request: HttpRequest, term_id: int) -> HttpResponse:
    term = get_object_or_404(Term, pk=term_id)
    before = Term.objects.filter(starts_on__lt=term.starts_on).order_by("-starts_on").first()
    count = actions.carry_over(term=term, before=before, by=request.user) if before else 0
    messages.success(request, _("%(n)s enrolments carried over.") % {"n": count})
    return redirect("studio:edit-term", term_id=term.pk)


@require_http_methods(["GET", "POST"])
@only("run_office")
def edit_class(request: HttpRequest, class_id: int | None = None) -> HttpResponse:
    group = get_object_or_404(ClassGroup, pk=class_id) if class_id else None
    form = ClassForm(request.POST or None, instance=group)
    return _edit(
        request, form, "studio/class.html", {"class_group": group, "meeting_form": MeetingForm()},
        lambda f: _back_to_steps(request, f.save()) or redirect("studio:edit-class", class_id=f.instance.pk),
        _("The class is saved."),
    )


@require_POST
@only("run_office")
def add_meeting(request: HttpRequest, class_id: int) -> HttpResponse:
    group = get_object_or_404(ClassGroup, pk=class_id)
    form = MeetingForm(request.POST, instance=ClassMeeting(class_group=group))
    if form.is_valid():
        try:
            form.instance.validate_constraints()
        except ValidationError:
            messages.warning(request, _("The class meets at that time already."))
        else:
            form.save()
            messages.success(request, _("Saved."))
        return redirect("studio:edit-class", class_id=group.pk)
    context = {"room": "office", "form": ClassForm(instance=group), "class_group": group, "meeting_form": form}
    return show(request, "studio/class.html", context)


@require_POST
@only("run_office")
def remove_meeting(request: HttpRequest, meeting_id: int) -> HttpResponse:
    meeting = get_object_or_404(ClassMeeting, pk=meeting_id)
    class_id = meeting.class_group_id
    meeting.delete()
    return redirect("studio:edit-class", class_id=class_id)


@require_http_methods(["GET", "POST"])
@only("run_office")
def add_person(request: HttpRequest) -> HttpResponse:
    form = NewPersonForm(request.POST or None)

    def save(form):
        person = form.save(commit=False)
        person.set_password(form.cleaned_data["password"])
        person.save()

    return _edit(request, form, "studio/edit_form.html", {"title": _("A new person")}, save, _("The account is made."))


@require_POST
@only("run_office", password=True)
def give_password(request: HttpRequest, user_id: int) -> HttpResponse:
    """A new password for somebody who lost theirs, shown this once to the owner. Not for oneself: it would end this
    very visit before anybody read it."""
    person = get_object_or_404(User, pk=user_id)
    if person == request.user:
        messages.warning(request, _("Your own password is changed here, where the new one is typed."))
        return redirect("studio:account")
    password = actions.new_password(person=person, by=request.user)
    messages.success(request, _("%(name)s logs in as %(username)s with %(password)s. It is shown this once.") % {
        "name": person.name, "username": person.username, "password": password})
    return redirect("studio:edit-person", user_id=person.pk)


@require_http_methods(["GET", "POST"])
@only("run_office")
def edit_person(request: HttpRequest, user_id: int) -> HttpResponse:
    person = get_object_or_404(User, pk=user_id)
    form = EditPersonForm(request.POST or None, instance=person)
    if request.method == "POST" and form.is_valid():
        keeps_key = form.cleaned_data["role"] == User.OWNER and form.cleaned_data["is_active"]
        others = User.objects.filter(role=User.OWNER, is_active=True).exclude(pk=person.pk)
        if not keeps_key and not others.exists():
            form.add_error("role", _("The studio needs at least one owner who may log in."))
    context = {"title": person.name, "person": person, "has_second_factor": has_second_factor(person)}

    def save(form):
        keep_account(person=form.save(commit=False), by=request.user, here=request.session.session_key)

    return _edit(request, form, "studio/edit_form.html", context, save, _("Saved."))
