"""The catalogue of exercises: to read for everybody who teaches, to change for the owner."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from progress.actions.classwork import exercises as actions
from progress.forms.classwork import ExerciseForm, LoadRuleForm
from progress.models import Exercise, LoadRule
from progress.queries.classwork.exercises import dose_words, ladders, serves_words, versions_by_exercise
from progress.rules.load_of_feet import DEFAULT_PERCENT
from screening.forms import new_key
from screening.models import Measure
from screening.queries import current_protocols
from studio.pages import show
from studio.permissions import only, visit_may


@require_GET
@only("teach")
def exercises(request: HttpRequest) -> HttpResponse:
    measures = {measure.key: measure for measure in Measure.objects.all()}
    by_exercise = versions_by_exercise()
    rows = [(v, dose_words(v.dose, v), serves_words(v, measures)) for v in by_exercise.values()]
    steps = [
        (ladder, [(by_exercise[rung.exercise_id], dose_words(rung.dose, by_exercise[rung.exercise_id]), rung.note)
                  for rung in ladder.rungs])
        for ladder in ladders()
    ]
    rule = LoadRule.objects.first()
    return show(request, "progress/classwork/exercises.html", {
        "room": "office", "rows": rows, "ladders": steps, "rule": rule,
        "rule_form": LoadRuleForm(initial={"percent": rule.percent if rule else DEFAULT_PERCENT}),
    })


@require_GET
@only("teach")
def exercise(request: HttpRequest, exercise_key: str) -> HttpResponse:
    """How it is done, what clean looks like, what to look out for; and the versions before this one."""
    row = get_object_or_404(Exercise, key=exercise_key)
    versions = list(row.versions.order_by("-version").select_related("made_by"))
    measures = {measure.key: measure for measure in Measure.objects.all()}
    room = "office" if visit_may(request, "edit_catalogue") else "classes"
    return show(request, "progress/classwork/exercise.html", {
        "room": room, "exercise": row, "version": versions[0],
        "dose": dose_words(versions[0].dose, versions[0]), "serves": serves_words(versions[0], measures),
        "versions": [(v, dose_words(v.dose, v)) for v in versions],
    })


@require_http_methods(["GET", "POST"])
@only("edit_catalogue")
def edit_exercise(request: HttpRequest, exercise_key: str | None = None) -> HttpResponse:
    """The wording and the dose; a change makes a new version, and what was logged keeps its own."""
    row = get_object_or_404(Exercise, key=exercise_key) if exercise_key else None
    current = row.versions.order_by("-version").first() if row else None
    protocols = current_protocols()
    form = ExerciseForm(
        request.POST or None, instance=current, initial={"is_offered": row.is_offered if row else True},
        faults_by_measure=[(m, protocols[m.pk].faults if m.pk in protocols else ()) for m in Measure.objects.all()],
    )
    if request.method == "POST" and form.is_valid():
        if row is None:
            key = f"{slugify(form.cleaned_data['name'])[:30] or 'exercise'}-{new_key()[:6]}"
            made = actions.add_exercise(key=key, words=form.words(), by=request.user)
        else:
            made = actions.save_exercise(
                exercise=row, words=form.words(), is_offered=form.cleaned_data["is_offered"], by=request.user
            )
        messages.success(request, _("Saved. What was logged before keeps its own words."))
        return redirect("progress:exercise", exercise_key=made.exercise.key)
    context = {"room": "office", "exercise": row, "form": form, "current": current}
    return show(request, "progress/classwork/edit_exercise.html", context)


@require_http_methods(["POST"])
@only("edit_catalogue")
def set_load_rule(request: HttpRequest) -> HttpResponse:
    form = LoadRuleForm(request.POST)
    if form.is_valid():
        actions.set_load_rule(percent=form.cleaned_data["percent"], set_on=request.today, by=request.user)
        messages.success(request, _("Saved. It counts from now on, for every student."))
    else:
        messages.warning(request, _("Between 10 and 300 per cent. Nothing was changed."))
    return redirect("progress:exercises")
