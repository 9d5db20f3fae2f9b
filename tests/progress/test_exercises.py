"""The catalogue of exercises: whole in its words, true in its references, versioned, prompting by ladder."""
import json
from importlib import import_module

import pytest
from django.conf import settings
from django.urls import reverse

from progress.actions.classwork.exercises import WORDS, fill_in_exercises, save_exercise
from progress.drawing.body.poses import POSES
from progress.models import Exercise, ExerciseVersion, Ladder, LoadRule
from progress.rules.dose import Dose
from progress.rules.load_of_feet import DEFAULT_PERCENT

FIXTURES = settings.BASE_DIR / "fixtures"
CATALOGUE = json.loads((FIXTURES / "exercises.json").read_text(encoding="utf-8"))
MEASURES = {row["key"]: row for row in json.loads((FIXTURES / "measures.json").read_text(encoding="utf-8"))["measures"]}
EXERCISES = {row["key"]: row for row in CATALOGUE["exercises"]}


@pytest.mark.parametrize("key", EXERCISES)
def test_an_exercise_says_all_that_a_teacher_needs(key):
    row = EXERCISES[key]
    needed = (
        "name", "purpose", "muscles", "how", "tempo", "clean_look", "faults", "cautions", "stop_rule", "equipment",
        "dose_source", "serves", "pose",
    )
    assert [name for name in needed if not row.get(name)] == []
    assert set(row) - {"key"} <= set(WORDS)
    assert "stop" in row["stop_rule"] or "come down" in row["stop_rule"]


# No hand is drawn, or it has just let go.
HANDS_OFF = {"heel-press", "balance-two-feet", "balance-passe", "push-off-degages"}


@pytest.mark.parametrize("key", EXERCISES)
def test_an_exercise_is_drawn_with_a_hand_on_the_barre_where_it_is_done_at_one(key):
    row, pose = EXERCISES[key], POSES[EXERCISES[key]["pose"]]
    assert not pose.is_fault
    assert pose.holds_barre == (row["equipment"].startswith("barre") and key not in HANDS_OFF)


def test_every_exercise_has_a_drawing_of_its_own():
    poses = [row["pose"] for row in EXERCISES.values()]
    assert len(set(poses)) == len(poses)


@pytest.mark.parametrize("key", MEASURES)
def test_a_measure_is_drawn_and_what_is_clean_beside_what_is_not(key):
    assert not POSES[MEASURES[key]["pose"]].is_fault
    assert POSES[MEASURES[key]["clean_pose"]].is_fault


def test_a_studio_of_before_gets_the_drawings_of_the_catalogue():
    drawn = import_module("progress.migrations.0014_poses").POSES
    assert drawn == {key: row["pose"] for key, row in EXERCISES.items()}
    measured = import_module("screening.migrations.0007_poses").POSES
    assert measured == {key: (row["pose"], row["clean_pose"]) for key, row in MEASURES.items()}


@pytest.mark.parametrize("key", EXERCISES)
def test_what_an_exercise_serves_is_a_measure_and_one_of_its_faults(key):
    for measure, fault in EXERCISES[key]["serves"]:
        assert measure in MEASURES
        assert fault == "" or fault in MEASURES[measure]["protocol"]["faults"]


def test_every_judged_strand_and_every_fault_of_it_is_served_by_an_exercise():
    served = {tuple(pair) for row in EXERCISES.values() for pair in row["serves"]}
    judged = [row for row in MEASURES.values() if row.get("typical_gain")]
    assert [row["key"] for row in judged if (row["key"], "") not in served] == []
    rises = {("rises", fault) for fault in MEASURES["rises"]["protocol"]["faults"]}
    assert rises <= served


def test_every_source_of_a_dose_is_named_or_says_there_is_none():
    said = ("common practice, no source", "studio’s own")
    assert [key for key, row in EXERCISES.items() if not row["dose_source"].startswith(said)] == []


def test_whatever_counts_as_load_is_not_for_a_student_who_rests():
    assert [key for key, row in EXERCISES.items() if row.get("counts_as") and not row.get("loads_foot", True)] == []


@pytest.mark.parametrize("ladder", CATALOGUE["ladders"], ids=lambda row: row["key"])
def test_no_step_of_a_ladder_asks_for_more_than_half_again(ladder):
    """What the default of the load rule leans on."""
    for (key, sets, reps, hold, _note), (then, *dose, _then) in zip(ladder["steps"], ladder["steps"][1:], strict=False):
        before, after = Dose(sets, reps, hold), Dose(*dose)
        if key == then:
            work = [each.repetitions * (each.hold_seconds or 1) for each in (before, after)]
            assert work[1] * 100 <= work[0] * (100 + DEFAULT_PERCENT), (before, after)


def test_a_ladder_climbs_only_through_exercises_of_the_catalogue():
    assert {step[0] for ladder in CATALOGUE["ladders"] for step in ladder["steps"]} <= set(EXERCISES)


@pytest.mark.django_db
def test_loading_twice_changes_nothing_and_keeps_what_the_owner_made_of_a_row(cast):
    row = Exercise.objects.get(key="short-foot")
    save_exercise(exercise=row, words={"reps": 6}, is_offered=True, by=cast.owner)
    before = list(ExerciseVersion.objects.order_by("pk").values())
    fill_in_exercises()
    assert list(ExerciseVersion.objects.order_by("pk").values()) == before
    assert Ladder.objects.count() == len(CATALOGUE["ladders"])


def changed_form(row: Exercise, **changes) -> dict:
    current = row.versions.order_by("-version").first()
    sent = {name: getattr(current, name) for name in WORDS}
    sent |= {
        "faults": "\n".join(current.faults), "serves": ["|".join(pair) for pair in current.serves],
        "hold_seconds": current.hold_seconds or "", "is_offered": "on",
    }
    for name in ("each_foot", "loads_foot"):
        if not sent[name]:
            del sent[name]
    return sent | changes


def test_a_changed_word_is_a_new_version_and_the_old_one_stays(as_owner):
    row = Exercise.objects.get(key="short-foot")
    path = reverse("progress:edit-exercise", args=[row.key])
    assert as_owner.post(path, changed_form(row, name="Doming")).status_code == 302
    first, second = row.versions.order_by("version")
    assert (first.name, second.name, second.version) == ("Short foot (doming)", "Doming", 2)
    assert second.serves == first.serves and second.faults == first.faults


def test_the_same_words_again_make_no_version(as_owner):
    row = Exercise.objects.get(key="rises-one-foot")
    as_owner.post(reverse("progress:edit-exercise", args=[row.key]), changed_form(row))
    assert row.versions.count() == 1


@pytest.mark.parametrize("field, value", [("sets", "0"), ("reps", "1000"), ("name", ""), ("stop_rule", "")])
def test_what_no_dose_and_no_exercise_can_be_is_refused_and_stays_typed(as_owner, field, value):
    row = Exercise.objects.get(key="short-foot")
    sent = changed_form(row, purpose="typed words", **{field: value})
    answer = as_owner.post(reverse("progress:edit-exercise", args=[row.key]), sent)
    assert answer.status_code == 422
    assert "typed words" in answer.content.decode()
    assert row.versions.count() == 1


def test_a_drawing_is_chosen_from_pictures_and_stands_on_the_page(as_owner):
    page = as_owner.get(reverse("progress:add-exercise")).content.decode()
    assert page.count('type="radio" name="pose"') == page.count('class="body body-medium"') + 1
    sent = changed_form(Exercise.objects.get(key="heel-press"), name="Slow rolls", pose="forced-arch")
    as_owner.post(reverse("progress:add-exercise"), sent)
    made = ExerciseVersion.objects.get(name="Slow rolls")
    assert made.pose == "forced-arch"
    page = as_owner.get(reverse("progress:exercise", args=[made.exercise.key])).content.decode()
    assert f'aria-label="{POSES["forced-arch"].says}"' in page


def test_a_pose_that_nobody_drew_is_refused(as_owner):
    sent = changed_form(Exercise.objects.get(key="heel-press"), name="Slow rolls", pose="fault-rolls-in")
    assert as_owner.post(reverse("progress:add-exercise"), sent).status_code == 422


def test_a_new_exercise_stands_in_the_catalogue(as_owner):
    sent = changed_form(Exercise.objects.get(key="heel-press"), name="Slow rolls")
    as_owner.post(reverse("progress:add-exercise"), sent)
    assert "Slow rolls" in as_owner.get(reverse("progress:exercises")).content.decode()


def test_the_owner_sets_from_when_a_load_is_a_jump_and_nonsense_changes_nothing(as_owner, cast):
    for percent in ("40", "1000", "x"):
        as_owner.post(reverse("progress:set-load-rule"), {"percent": percent})
    assert [(rule.percent, rule.set_by) for rule in LoadRule.objects.all()] == [(40, cast.owner)]
