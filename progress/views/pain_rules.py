"""The owner's page of the answers to pain: the program's own table with its sources, and what is stricter here."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from progress.actions.pain_rules import keep_pain_rule
from progress.forms.pain_rules import StricterPainForm
from progress.models import StricterPainRule
from progress.queries.pain import stricter_rule
from progress.rules import pain
from progress.words.speech import voice_for
from studio.actions import Refused
from studio.pages import show
from studio.permissions import only


@require_http_methods(["GET", "POST"])
@only("run_office")
def pain_rules(request: HttpRequest) -> HttpResponse:
    """What pain asks for and where it comes from; each keeping is a new row, never milder than the program's."""
    now = stricter_rule()
    form = StricterPainForm(request.POST or None, initial={
        "doctor_from": now.doctor_from, "doctor_places": sorted(now.doctor_places),
    })
    if request.method == "POST" and form.is_valid():
        try:
            keep_pain_rule(**form.cleaned_data, by=request.user)
        except Refused as no:
            form.add_error(None, str(no))
        else:
            messages.success(request, _("Saved. It counts from the next report on."))
            return redirect("progress:pain-rules")
    voice = voice_for(None)
    return show(request, "progress/office/pain_rules.html", {
        "room": "office", "form": form, "kept": StricterPainRule.objects.select_related("made_by").order_by("-pk"),
        "rows": [(pain.next_step(row.asks, voice=voice)[0], row.source) for row in pain.rows()],
    })
