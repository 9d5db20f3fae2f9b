"""Reads the catalogue of exercises: each in its current version, and the ladders with their steps."""
from django.db.models import OuterRef, Prefetch, QuerySet, Subquery
from django.utils.translation import gettext as _

from progress.models import ExerciseVersion, Ladder, LadderStep
from progress.rules.dose import Dose, write_dose
from progress.words.speech import voice_for
from screening.models import Measure


def current_versions() -> QuerySet[ExerciseVersion]:
    """The newest version of every exercise, in the catalogue's order."""
    newest = ExerciseVersion.objects.filter(exercise=OuterRef("exercise")).order_by("-version").values("pk")[:1]
    rows = ExerciseVersion.objects.filter(pk=Subquery(newest)).select_related("exercise")
    return rows.order_by("exercise__position", "exercise__pk")


def versions_by_exercise() -> dict[int, ExerciseVersion]:
    return {version.exercise_id: version for version in current_versions()}


def ladders() -> list[Ladder]:
    """Every ladder with `rungs`: its steps in order."""
    steps = Prefetch("steps", LadderStep.objects.select_related("exercise").order_by("position"), to_attr="rungs")
    return list(Ladder.objects.prefetch_related(steps))


def dose_words(dose: Dose, version: ExerciseVersion) -> str:
    return write_dose(dose, each_foot=version.each_foot, voice=voice_for(None))


def serves_words(version: ExerciseVersion, measures: dict[str, Measure]) -> list[str]:
    """What the exercise is for, in the words of the measuring day: "Rises, one foot", "rises: wobble"."""
    words = []
    for key, fault in version.serves:
        if key in measures:
            measure = measures[key]
            words.append(f"{_(measure.short_name)}: {_(fault)}" if fault else str(measure))
    return words
