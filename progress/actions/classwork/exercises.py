"""Writes the catalogue of exercises: the rows of fixtures/, and the owner's changes as new versions."""
import datetime as dt
import json
from typing import Any

from django.conf import settings
from django.db import transaction

from progress.models import Exercise, ExerciseVersion, Ladder, LadderStep, LoadRule
from studio.models import User

# Everything of a version that the owner may change.
WORDS = (
    "name", "purpose", "muscles", "how", "pose", "sets", "reps", "hold_seconds", "each_foot", "tempo", "clean_look",
    "faults", "cautions", "stop_rule", "serves", "equipment", "dose_source", "loads_foot", "counts_as",
)


@transaction.atomic
def fill_in_exercises() -> None:
    """Exercises and ladders from fixtures/; rows that are there keep what the owner made of them."""
    catalogue = json.loads((settings.BASE_DIR / "fixtures" / "exercises.json").read_text(encoding="utf-8"))
    there = set(Exercise.objects.values_list("key", flat=True))
    new = [(at, row) for at, row in enumerate(catalogue["exercises"]) if row["key"] not in there]
    made = Exercise.objects.bulk_create(Exercise(key=row["key"], position=at) for at, row in new)
    ExerciseVersion.objects.bulk_create(
        ExerciseVersion(exercise=exercise, **{name: row[name] for name in WORDS if name in row})
        for exercise, (_at, row) in zip(made, new, strict=True)
    )
    _fill_in_ladders(catalogue["ladders"])


def _fill_in_ladders(rows: list[dict]) -> None:
    there = set(Ladder.objects.values_list("key", flat=True))
    exercises = {exercise.key: exercise for exercise in Exercise.objects.all()}
    new = [(at, row) for at, row in enumerate(rows) if row["key"] not in there]
    made = Ladder.objects.bulk_create(Ladder(key=row["key"], name=row["name"], position=at) for at, row in new)
    LadderStep.objects.bulk_create(
        LadderStep(
            ladder=ladder, position=position, exercise=exercises[key], sets=sets, reps=reps, hold_seconds=hold,
            note=note,
        )
        for ladder, (_at, row) in zip(made, new, strict=True)
        for position, (key, sets, reps, hold, note) in enumerate(row["steps"], start=1)
    )


@transaction.atomic
def add_exercise(*, key: str, words: dict[str, Any], by: User) -> ExerciseVersion:
    last = Exercise.objects.order_by("-position").values_list("position", flat=True).first() or 0
    exercise = Exercise.objects.create(key=key, position=last + 1)
    return ExerciseVersion.objects.create(exercise=exercise, made_by=by, **words)


@transaction.atomic
def save_exercise(*, exercise: Exercise, words: dict[str, Any], is_offered: bool, by: User) -> ExerciseVersion:
    """A changed word or dose becomes the next version; unchanged, the current one stays. Logs keep theirs."""
    locked = Exercise.objects.select_for_update().get(pk=exercise.pk)
    if locked.is_offered != is_offered:
        locked.is_offered = is_offered
        locked.save(update_fields=["is_offered"])
    current = exercise.versions.order_by("-version").first()
    new = {name: words.get(name, getattr(current, name)) for name in WORDS}
    if all(new[name] == getattr(current, name) for name in WORDS):
        return current
    return ExerciseVersion.objects.create(exercise=exercise, version=current.version + 1, made_by=by, **new)


@transaction.atomic
def set_load_rule(*, percent: int, set_on: dt.date, by: User) -> None:
    """From when a week's load is called a jump; the same figure again changes nothing."""
    current = LoadRule.objects.first()
    if current is None or current.percent != percent:
        LoadRule.objects.create(percent=percent, set_on=set_on, set_by=by)
