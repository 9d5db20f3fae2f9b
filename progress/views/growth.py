"""A student's heights: entered by the teacher, corrected by a new row; no weight is asked for anywhere."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from progress.actions import growth as actions
from progress.drawing.height_curve import Height as Shown
from progress.drawing.height_curve import height_curve
from progress.forms.growth import HeightForm
from progress.models import Height
from progress.queries.growth import gentle_note, growth_of, pace_words, readings
from studio.actions import Refused
from studio.models import Consent, Student
from studio.pages import show
from studio.permissions import only, reach_agreed_student
from studio.templatetags.wording import write_number


@require_http_methods(["GET", "POST"])
@only("measure")
def heights(request: HttpRequest, student_id: int) -> HttpResponse:
    """Every height with its corrections, what they say of growth, and the next one."""
    student = reach_agreed_student(request, student_id, Consent.MEASUREMENTS)
    form = HeightForm(
        request.POST or None, today=request.today, others=readings(student.heights.saying()),
        initial={"measured_on": request.today},
    )
    if request.method == "POST" and form.is_valid():
        return _kept(request, student, form, lambda typed: actions.record_height(
            student=student, height_cm=typed["height_cm"], measured_on=typed["measured_on"], by=request.user))
    return _page(request, student, form)


def _kept(request: HttpRequest, student: Student, form: HeightForm, keep) -> HttpResponse:
    try:
        keep(form.cleaned_data)
    except Refused as refused:
        form.add_error(None, str(refused))
        return _page(request, student, form)
    messages.success(request, _("Saved."))
    return redirect("progress:heights", student_id=student.pk)


def _page(request: HttpRequest, student: Student, form: HeightForm, *, height: Height | None = None) -> HttpResponse:
    rows = student.heights.select_related("by", "superseded_by", "supersedes").order_by("-measured_on", "-pk")
    grown = growth_of(student, as_of=request.today)
    return show(request, "progress/heights.html", {
        "room": "classes", "student": student, "form": form, "rows": rows, "height": height,
        "drawing": {"curve": _curve(student)}, "pace": pace_words(grown) if grown else "", "note": gentle_note(grown),
    })


def _curve(student: Student) -> str:
    """The heights that stand, as a curve."""
    told = [
        Shown(each.on, each.height_cm, date_format(each.on, "DATE_FORMAT"),
              _("%(number)s cm") % {"number": write_number(each.height_cm, 1)})
        for each in readings(student.heights.in_force())
    ]
    return height_curve(told, title=_("Height"))


@require_http_methods(["GET", "POST"])
@only("measure")
def correct_height(request: HttpRequest, height_id: int) -> HttpResponse:
    """Another height in the place of this one, or taking it back; the old row stays on the list."""
    height = get_object_or_404(Height.objects.select_related("student"), pk=height_id)
    student = reach_agreed_student(request, height.student_id, Consent.MEASUREMENTS)
    if request.method == "POST" and "take_back" in request.POST:
        form = HeightForm(None, today=request.today, others=[])
        form.cleaned_data = {}
        return _kept(request, student, form, lambda typed: actions.correct_height(
            height=height, height_cm=None, measured_on=height.measured_on, by=request.user))
    others = readings(student.heights.saying().exclude(pk=height.pk))
    form = HeightForm(
        request.POST or None, today=request.today, others=others,
        initial={"height_cm": height.height_cm, "measured_on": height.measured_on},
    )
    if request.method == "POST" and form.is_valid():
        return _kept(request, student, form, lambda typed: actions.correct_height(
            height=height, height_cm=typed["height_cm"], measured_on=typed["measured_on"], by=request.user))
    return _page(request, student, form, height=height)
