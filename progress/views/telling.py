"""Keeps who at home was told of a pain, from the next step or from its follow-up."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from progress.actions.telling import tell_home
from progress.forms.telling import TellForm
from progress.queries.telling import whom_to_ring
from progress.views.pain import reach_report
from studio.permissions import only


@require_POST
@only("measure")
def told_at_home(request: HttpRequest, report_id: int) -> HttpResponse:
    report = reach_report(request, report_id)
    form = TellForm(request.POST, guardians=whom_to_ring(report.student))
    if form.is_valid():
        typed = form.cleaned_data
        tell_home(
            key=typed["key"], report=report, guardian=typed.get("guardian"), who=typed["who"], way=typed["way"],
            note=typed["note"], by=request.user,
        )
        messages.success(request, _("Saved."))
    else:
        messages.warning(request, _("Say who was told, and how."))
    follow_up = report.follow_ups.order_by("closed_at", "pk").first()
    if "from_follow_up" in request.POST and follow_up:
        return redirect("progress:follow-up", follow_up_id=follow_up.pk)
    return redirect(reverse("progress:pain-next-step", args=[report.pk]))
