"""The catalogue: measures with their protocols and typical errors, batteries, targets by stage."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from progress.actions import catalogue as actions
from progress.forms import TargetForm
from progress.models import LearnedValue
from progress.queries.assessors import assessor_pairs
from progress.queries.learned import in_force, learned_values
from screening import actions as screening_actions
from screening.forms import BatteryForm, MeasureForm, ProtocolForm, new_key
from screening.models import Battery, Measure
from screening.queries import battery_measures, current_protocols, targets_by_stage
from studio.models import Stage
from studio.pages import show
from studio.permissions import only


@require_GET
@only("edit_catalogue")
def catalogue(request: HttpRequest) -> HttpResponse:
    protocols = current_protocols()
    rows = [(measure, protocols[measure.pk]) for measure in Measure.objects.all()]
    batteries = [(battery, battery_measures(battery)) for battery in Battery.objects.all()]
    return show(request, "progress/office/catalogue.html", {"room": "office", "rows": rows, "batteries": batteries})


@require_http_methods(["GET", "POST"])
@only("edit_catalogue")
def edit_measure(request: HttpRequest, measure_key: str) -> HttpResponse:
    measure = get_object_or_404(Measure, key=measure_key)
    form = MeasureForm(request.POST or None, instance=measure)
    if request.method == "POST" and form.is_valid():
        actions.save_measure(measure=form.save(commit=False), by=request.user)
        messages.success(request, _("Saved. Everyone is judged with it from now on."))
        return redirect("progress:edit-measure", measure_key=measure.key)
    learned = learned_values()
    return show(request, "progress/office/measure.html", {
        "room": "office", "measure": measure, "form": form,
        "values": [
            (words, in_force(measure, kind, learned)) for kind, words in LearnedValue.kind.field.choices
        ] if measure.is_judged else [],
        "protocols": measure.protocols.order_by("-version").select_related("made_by"),
    })


@require_http_methods(["GET", "POST"])
@only("edit_catalogue")
def edit_protocol(request: HttpRequest, measure_key: str) -> HttpResponse:
    """The wording; a change makes a new version, results keep theirs, and the chart shows the break."""
    measure = get_object_or_404(Measure, key=measure_key)
    current = measure.protocols.order_by("-version").first()
    form = ProtocolForm(request.POST or None, instance=current, measure=measure)
    if request.method == "POST" and form.is_valid():
        made = screening_actions.save_protocol(measure=measure, changes=form.changes(), by=request.user)
        if made.version == measure.protocols.count() and made.pk != current.pk:
            messages.success(request, _("Version %(n)s from now on. A new line starts with it.") % {"n": made.version})
        else:
            messages.success(request, _("Nothing was changed."))
        return redirect("progress:edit-measure", measure_key=measure.key)
    context = {"room": "office", "measure": measure, "form": form, "current": current}
    return show(request, "progress/office/protocol.html", context)


@require_http_methods(["GET", "POST"])
@only("edit_catalogue")
def edit_battery(request: HttpRequest, battery_id: int | None = None) -> HttpResponse:
    battery = get_object_or_404(Battery, pk=battery_id) if battery_id else Battery()
    form = BatteryForm(request.POST or None, instance=battery)
    if request.method == "POST" and form.is_valid():
        battery = form.save(commit=False)
        battery.key = battery.key or f"{slugify(battery.name)[:30] or 'battery'}-{new_key()[:6]}"
        chosen = sorted(form.cleaned_data["measures"], key=lambda m: m.position)
        screening_actions.save_battery(battery=battery, measures=chosen, by=request.user)
        messages.success(request, _("Saved."))
        return redirect("progress:catalogue")
    return show(request, "progress/office/battery.html", {"room": "office", "form": form, "battery": battery})


@require_GET
@only("edit_catalogue")
def assessors(request: HttpRequest) -> HttpResponse:
    return show(request, "progress/office/assessors.html", {"room": "office", "pairs": assessor_pairs()})


@require_http_methods(["GET", "POST"])
@only("edit_catalogue")
def targets(request: HttpRequest) -> HttpResponse:
    """Every target on one page, stages across, measures down."""
    stages, measures = list(Stage.objects.all()), [m for m in Measure.objects.all() if m.direction == Measure.HIGHER]
    current = targets_by_stage()
    rows, wanted, is_valid = [], [], True
    for measure in measures:
        forms = []
        for stage in stages:
            target = current.get((measure.pk, stage.pk))
            initial = {"value": f"{target.value.normalize():f}", "basis": target.basis} if target else {}
            form = TargetForm(
                request.POST or None, measure=measure, prefix=f"{measure.key}-{stage.key}", initial=initial
            )
            if request.method == "POST" and form.is_valid():
                wanted.append((measure, stage, form.cleaned_data["value"], form.cleaned_data["basis"]))
            elif request.method == "POST":
                is_valid = False
            forms.append((stage, form))
        rows.append((measure, forms))
    if request.method == "POST" and is_valid:
        actions.set_targets(wanted=wanted, set_on=request.today, by=request.user)
        messages.success(request, _("Saved. Everyone is judged with these from now on."))
        return redirect("progress:targets")
    context = {"room": "office", "rows": rows, "stages": stages, "is_valid": is_valid}
    return show(request, "progress/office/targets.html", context, status=200 if is_valid else 422)
