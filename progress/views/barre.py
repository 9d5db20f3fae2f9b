"""The measuring day at the barre: open, one sheet a measure, every entry saved as it is made, close."""
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.actions import measuring
from progress.queries import barre as queries
from screening import actions as screening_actions
from screening.forms import MissingForm, OpenScreeningForm, ResultForm, new_key
from screening.models import Battery, Measure, Result, Screening
from screening.queries import battery_measures, students_of
from studio.actions import Refused
from studio.models import Student
from studio.pages import show
from studio.permissions import load_class, load_student, only, reachable_classes, reachable_students
from studio.queries import term_on


def load_screening(request: HttpRequest, screening_id: int) -> Screening:
    """A screening of a class that this person reaches; otherwise 404."""
    screenings = Screening.objects.filter(class_group__in=reachable_classes(request.user))
    return get_object_or_404(screenings.select_related("class_group", "battery", "term"), pk=screening_id)


def _students(request: HttpRequest, opened: Screening) -> list[Student]:
    """The children of a measuring day whom this person reaches."""
    reach = set(reachable_students(request.user, today=request.today).values_list("pk", flat=True))
    return [student for student in students_of(opened) if student.pk in reach]


def load_result(request: HttpRequest, result_id: int) -> Result:
    """A result of a student whom this person reaches; otherwise 404."""
    rows = Result.objects.select_related("student", "screening", "measure", "protocol")
    result = get_object_or_404(rows, pk=result_id)
    load_student(request, result.student_id)
    return result


def _load_measure(screening: Screening, measure_key: str) -> Measure:
    measure = get_object_or_404(Measure, key=measure_key)
    asked = {m.pk for m in battery_measures(screening.battery)}
    if measure.pk not in asked and not screening.results.filter(measure=measure).exists():
        raise Http404
    return measure


@require_http_methods(["GET", "POST"])
@only("measure")
def open_screening(request: HttpRequest, class_id: int) -> HttpResponse:
    group, term = load_class(request, class_id), term_on(request.today)
    initial = {"held_on": request.today, "battery": Battery.objects.first()}
    form = OpenScreeningForm(request.POST or None, today=request.today, initial=initial)
    if request.method == "POST" and form.is_valid():
        cleaned = form.cleaned_data
        opened = screening_actions.open_screening(
            class_group=group, term=term_on(cleaned["held_on"]), battery=cleaned["battery"],
            held_on=cleaned["held_on"], name=cleaned["name"], by=request.user,
        )
        return redirect("progress:screening", screening_id=opened.pk)
    context = {
        "room": "classes", "class_group": group, "term": term, "form": form,
        "batteries": Battery.objects.prefetch_related("entries__measure"),
    }
    return show(request, "progress/barre/open.html", context, status=422 if form.errors else 200)


@require_GET
@only("measure")
def screening(request: HttpRequest, screening_id: int) -> HttpResponse:
    opened = load_screening(request, screening_id)
    return show(request, "progress/barre/screening.html", {
        "room": "classes", "screening": opened, "day": queries.measuring_day(opened, _students(request, opened)),
    })


@require_POST
@only("measure")
def close_screening(request: HttpRequest, screening_id: int) -> HttpResponse:
    opened = load_screening(request, screening_id)
    missing = measuring.close_screening(screening=opened, closed_on=request.today, by=request.user)
    if missing:
        messages.warning(request, _("Closed. Who was not measured stands below."))
    else:
        messages.success(request, _("Closed. Everyone was seen."))
    return redirect("progress:screening", screening_id=opened.pk)


@require_POST
@only("measure")
def reopen_screening(request: HttpRequest, screening_id: int) -> HttpResponse:
    opened = load_screening(request, screening_id)
    screening_actions.reopen_screening(screening=opened, by=request.user)
    messages.success(request, _("The screening is open again."))
    return redirect("progress:screening", screening_id=opened.pk)


def _sheet(request: HttpRequest, opened: Screening, measure: Measure, *, form=None, part="progress/barre/_sheet.html"):
    """The sheet page or its part; `form`, a refused entry, is shown in its cell with what was typed."""
    view = queries.sheet_view(
        opened, measure, _students(request, opened), by=request.user, form=form, reopen=request.GET.get("again", "")
    )
    status = 422 if form is not None and form.errors else 200
    return show(
        request, "progress/barre/sheet.html", {"room": "classes", "screening": opened, "view": view}, part=part,
        status=status,
    )


@require_GET
@only("measure")
def sheet(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    opened = load_screening(request, screening_id)
    return _sheet(request, opened, _load_measure(opened, measure_key))


@require_POST
@only("measure")
def record(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    """One entry: kept and shown as kept, asked back, or refused with what was typed still there."""
    opened = load_screening(request, screening_id)
    measure = _load_measure(opened, measure_key)
    protocol = measure.protocols.order_by("-version").first()
    form = ResultForm(request.POST, measure=measure, protocol=protocol)
    form.is_valid()
    if "student" in form.errors or "key" in form.errors or "side" in form.errors:
        return redirect("progress:sheet", screening_id=opened.pk, measure_key=measure.key)
    student = load_student(request, form.cleaned_data["student"])
    if form.is_valid():
        try:
            _keep(request, form, opened, student, measure)
        except Refused as refused:
            form.add_error("value", str(refused))
        except screening_actions.Conflict:
            form.add_error("value", _("This was sent before with another value. The first one stays; look again."))
    if not request.htmx and form.is_valid():
        return redirect("progress:sheet", screening_id=opened.pk, measure_key=measure.key)
    return _sheet(request, opened, measure, form=form, part="progress/barre/_answer.html")


def _keep(request: HttpRequest, form: ResultForm, opened: Screening, student: Student, measure: Measure) -> None:
    cleaned = form.cleaned_data
    if cleaned.get("corrects"):
        before = load_result(request, cleaned["corrects"])
        of_cell = (opened.pk, student.pk, measure.pk, cleaned["side"])
        if (before.screening_id, before.student_id, before.measure_id, before.side) != of_cell:
            raise Http404
        measuring.correct_result(key=cleaned["key"], result=before, entry=form.entry, by=request.user)
        return
    measuring.record_result(
        key=cleaned["key"], screening=opened, student=student, measure=measure, side=cleaned["side"],
        entry=form.entry, by=request.user,
    )


@require_POST
@only("measure")
def record_missing(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    """Why a child is not tested in this measure, for every side that has nothing yet."""
    opened = load_screening(request, screening_id)
    measure = _load_measure(opened, measure_key)
    form = MissingForm(request.POST)
    if form.is_valid():
        student = load_student(request, form.cleaned_data["student"])
        entry = screening_actions.Entry(reason_missing=form.cleaned_data["reason"])
        try:
            measuring.record_missing(screening=opened, student=student, measure=measure, entry=entry, by=request.user)
        except Refused as refused:
            messages.warning(request, str(refused))
    return redirect("progress:sheet", screening_id=opened.pk, measure_key=measure.key)


@require_POST
@only("measure")
def take_back(request: HttpRequest, result_id: int) -> HttpResponse:
    """Undo of one entry: a first entry is withdrawn, a correction gives way to what stood before."""
    result = load_result(request, result_id)
    try:
        measuring.take_back(key=new_key(), result=result, by=request.user)
    except Refused as refused:
        messages.warning(request, str(refused))
    return redirect("progress:sheet", screening_id=result.screening_id, measure_key=result.measure.key)
