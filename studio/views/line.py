"""The line of a class at the barre: who stands where, and how many at a time; kept from class to class."""
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio import actions, queries
from studio.models import ClassGroup, Enrolment
from studio.pages import key_from, show
from studio.permissions import only, reach_class

MOST_AT_THE_BARRE = 8
# A page of the barre that led here, and nowhere else, is led back to.
WAY_BACK = "/barre/screenings/"


@require_http_methods(["GET", "POST"])
@only("measure")
def class_line(request: HttpRequest, class_id: int) -> HttpResponse:
    """One place up or down, the whole order as moved, or another size of the groups; each is one post."""
    group, term = reach_class(request, class_id), queries.term_on(request.today)
    line = queries.barre_order(group, term, request.today)
    back = request.GET.get("back", "")
    back = back if back.startswith(WAY_BACK) else ""
    if request.method == "POST":
        _change(request, group, line)
        return redirect(reverse("studio:class-line", args=[group.pk]) + (f"?back={back}" if back else ""))
    names = queries.barre_names([enrolment.student for enrolment in line])
    lengths = queries.groups_of(len(line), group.group_size)
    starts = {sum(lengths[:at]): at + 1 for at in range(len(lengths))}
    return show(request, "studio/line.html", {
        "room": "classes", "class_group": group, "term": term, "back": back,
        "line": [(row, names[row.student_id], starts.get(at)) for at, row in enumerate(line)], "lengths": lengths,
        "sizes": range(1, MOST_AT_THE_BARRE + 1),
    })


def _change(request: HttpRequest, group: ClassGroup, line: list[Enrolment]) -> None:
    size = key_from(request.POST.get("size", ""))
    if size is not None and 1 <= size <= MOST_AT_THE_BARRE:
        actions.set_group_size(class_group=group, size=size, by=request.user)
    order = _wanted_order(request, line)
    if order != line:
        actions.set_barre_order(enrolments=order, by=request.user)


def _wanted_order(request: HttpRequest, line: list[Enrolment]) -> list[Enrolment]:
    """The order as asked for; students whom it does not name, newcomers of this minute, stay behind it."""
    keys = [key_from(text) for text in request.POST.get("order", "").split(",")]
    places = {key: at for at, key in enumerate(keys)}
    order = sorted(line, key=lambda enrolment: places.get(enrolment.pk, len(places)))
    for name, by in (("up", -1), ("down", 1)):
        key = key_from(request.POST.get(name, ""))
        at = next((n for n, enrolment in enumerate(order) if enrolment.pk == key), None)
        if at is not None and 0 <= at + by < len(order):
            order[at], order[at + by] = order[at + by], order[at]
    return order
