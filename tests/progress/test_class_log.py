"""The class log: taps are appended, each once, in reach, never for who rests; undone without a trace lost."""
import uuid

import pytest
from django.urls import reverse

from progress.actions import day
from progress.actions.classwork import class_log as actions
from progress.actions.classwork.programme import plan_exercise
from progress.actions.day import ClassDay
from progress.models import Attendance, ClassLog, Exercise, LadderStep, LogEntry, PainReport
from progress.rules.dose import Dose
from studio.actions import Refused
from studio.ledger import Conflict

RISES, FOOT = "rises-one-foot", "short-foot"


@pytest.fixture
def planned(cast):
    """Two exercises for the class; Bettina does more of the first."""
    for key, dose in ((RISES, Dose(2, 4)), (FOOT, Dose(2, 8, 5))):
        plan(cast, key, dose)
    plan(cast, RISES, Dose(3, 4), student=cast.bettina)


def plan(cast, key, dose, **more):
    return plan_exercise(
        class_group=cast.class_group, term=cast.term, exercise=Exercise.objects.get(key=key), dose=dose,
        added_on=cast.screening.held_on, by=cast.teacher, **more,
    )


def day_of(cast) -> ClassDay:
    return ClassDay(cast.class_group, cast.term, cast.screening.held_on)


def as_planned(cast, key=RISES, students=None, tap=None):
    return actions.log_as_planned(
        key=tap or uuid.uuid4(), day=day_of(cast), exercise=Exercise.objects.get(key=key),
        students=students or [cast.ama, cast.bettina], by=cast.teacher,
    )


def change(cast, what, student=None, key=RISES, tap=None):
    return actions.log_change(
        key=tap or uuid.uuid4(), day=day_of(cast), exercise=Exercise.objects.get(key=key),
        student=student or cast.ama, change=what, by=cast.teacher,
    )


def attend(cast, *, present=(), absent=(), tap=None):
    return day.state_attendance(
        key=tap or uuid.uuid4(), day=day_of(cast), present=present, absent=absent, by=cast.teacher
    )


def undo(cast, of):
    return day.take_back(key=uuid.uuid4(), of=of, day=day_of(cast), by=cast.teacher)


def standing(cast, student=None) -> list[tuple]:
    rows = LogEntry.objects.in_force().filter(is_withdrawn=False, student=student or cast.ama)
    return [(row.exercise.key, row.dose, row.control, row.faults) for row in rows]


def test_as_planned_is_for_each_her_own_dose_and_says_that_she_was_here(cast, planned):
    as_planned(cast)
    assert standing(cast) == [(RISES, Dose(2, 4), "clean", [])]
    assert standing(cast, cast.bettina) == [(RISES, Dose(3, 4), "clean", [])]
    assert set(Attendance.objects.filter(is_present=True).values_list("student", flat=True)) == {
        cast.ama.pk, cast.bettina.pk,
    }


def test_an_exception_before_stays_when_the_others_did_as_planned(cast, planned):
    change(cast, "control:lost")
    as_planned(cast)
    assert standing(cast) == [(RISES, Dose(2, 4), "lost", [])]
    assert standing(cast, cast.bettina) == [(RISES, Dose(3, 4), "clean", [])]


def test_a_change_is_a_new_row_and_the_old_one_stays_as_it_was(cast, planned):
    [first, _second] = as_planned(cast)
    change(cast, "fault:wobble")
    change(cast, "sets:1")
    assert standing(cast) == [(RISES, Dose(1, 4), "corrected", ["wobble"])]
    first.refresh_from_db()
    assert (first.dose, first.control) == (Dose(2, 4), "clean")
    assert LogEntry.objects.filter(student=cast.ama).count() == 3


def test_the_same_tap_twice_is_one_row_and_with_other_contents_a_conflict(cast, planned):
    tap = uuid.uuid4()
    for _time in range(3):
        change(cast, "fault:wobble", tap=tap)
        as_planned(cast, FOOT, tap=uuid.UUID(int=7))
    assert LogEntry.objects.count() == 3
    with pytest.raises(Conflict):
        change(cast, "fault:bent knee", tap=tap)
    with pytest.raises(Conflict):
        as_planned(cast, RISES, tap=uuid.UUID(int=7))


def test_whoever_rests_is_never_logged_as_done_where_the_foot_is_loaded(cast, planned):
    PainReport.objects.create(
        student=cast.ama, places=["L-achilles"], feels=["sharp"], asks="stop", reported_on=cast.screening.held_on,
        reported_by=cast.teacher,
    )
    as_planned(cast)
    as_planned(cast, FOOT)
    assert [key for key, *_rest in standing(cast)] == [FOOT]
    with pytest.raises(Refused, match="leaves this out for now"):
        change(cast, "sets:1")


def test_what_she_did_before_it_hurt_can_still_be_put_right(cast, planned):
    as_planned(cast)
    PainReport.objects.create(
        student=cast.ama, places=["L-achilles"], feels=["sharp"], asks="stop", reported_on=cast.screening.held_on,
        reported_by=cast.teacher,
    )
    change(cast, "sets:1")
    assert standing(cast) == [(RISES, Dose(1, 4), "clean", [])]


def test_whoever_turns_out_absent_has_done_nothing_and_is_not_logged_again(cast, planned):
    as_planned(cast)
    attend(cast, absent=[cast.ama])
    as_planned(cast, FOOT)
    assert standing(cast) == []
    with pytest.raises(Refused, match="absent"):
        change(cast, "sets:1")


def test_undo_of_absent_brings_her_entries_back(cast, planned):
    as_planned(cast)
    tap = uuid.uuid4()
    attend(cast, absent=[cast.ama], tap=tap)
    undo(cast, tap)
    assert standing(cast) == [(RISES, Dose(2, 4), "clean", [])]
    assert Attendance.objects.in_force().get(student=cast.ama).is_present is True


def test_taps_are_undone_one_after_the_other_back_to_nothing(cast, planned):
    taps = [uuid.uuid4() for _n in range(3)]
    as_planned(cast, tap=taps[0])
    change(cast, "fault:wobble", tap=taps[1])
    change(cast, "control:lost", tap=taps[2])
    seen = []
    for tap in reversed(taps):
        undo(cast, tap)
        seen.append(standing(cast))
    assert seen == [
        [(RISES, Dose(2, 4), "corrected", ["wobble"])], [(RISES, Dose(2, 4), "clean", [])], [],
    ]
    assert LogEntry.objects.filter(student=cast.ama).count() == 6


def test_what_was_changed_meanwhile_is_not_undone_over_somebodys_head(cast, planned):
    tap = uuid.uuid4()
    change(cast, "fault:wobble", tap=tap)
    change(cast, "control:lost")
    with pytest.raises(Refused, match="meanwhile"):
        undo(cast, tap)
    with pytest.raises(Refused, match="not here"):
        undo(cast, uuid.uuid4())


@pytest.mark.parametrize("what", ["fault:spinning", "sets:0", "sets:99", "reps:x", "control:perfect", "", "x" * 60])
def test_a_tap_that_there_is_not_is_refused_and_keeps_nothing(cast, planned, what):
    with pytest.raises(Refused):
        change(cast, what)
    assert not LogEntry.objects.exists()


def test_what_was_planned_then_stays_when_the_programme_changes_and_the_entry_is_put_right(cast, planned):
    step = LadderStep.objects.get(ladder__key="one-foot", position=7)
    as_planned(cast)
    plan(cast, RISES, step.dose, step=step)
    row = change(cast, "fault:wobble")
    assert (row.planned, row.step, row.dose) == (Dose(2, 4), None, Dose(2, 4))


def test_a_student_who_is_spared_does_without(cast, planned):
    plan(cast, FOOT, Dose(2, 8, 5), student=cast.ama, is_spared=True)
    as_planned(cast, FOOT)
    assert standing(cast) == []
    assert len(standing(cast, cast.bettina)) == 1


def test_a_new_version_of_an_exercise_leaves_what_was_logged_with_its_own_words(cast, planned):
    [row, _other] = as_planned(cast)
    version = row.version
    version.exercise.versions.create(**{
        **{f.name: getattr(version, f.name) for f in version._meta.fields if f.name not in ("id", "exercise")},
        "version": 2, "name": "Renamed",
    })
    row.refresh_from_db()
    assert row.version.name == "Élevés on one foot"


# --- as the page and the outbox send it ---------------------------------------------------------------------------


def post(client, cast, route, **fields):
    headers = {"X-Outbox": "yes", "X-Outbox-Person": str(cast.teacher.pk)}
    sent = {"key": str(uuid.uuid4()), "on": "2026-03-24", **fields}
    return client.post(reverse(f"progress:{route}", args=[cast.class_group.pk]), sent, headers=headers)


def test_the_outbox_is_told_what_stands(as_teacher, cast, planned):
    post(as_teacher, cast, "log-as-planned", exercise=RISES, students=[cast.ama.pk, cast.bettina.pk])
    key = str(uuid.uuid4())
    answer = post(as_teacher, cast, "log-change", key=key, exercise=RISES, student=cast.ama.pk, change="fault:wobble")
    assert answer.json()["key"] == key
    [told] = answer.json()["result"]["results"]
    assert (told["written"], told["control"]) == ("corrected, wobble", "corrected")


@pytest.mark.parametrize("on, status", [
    ("2026-03-24", 200), ("2026-03-10", 200), ("2026-03-09", 422), ("2026-03-25", 422), ("x", 422), ("", 422),
])
def test_a_class_is_logged_on_its_day_or_within_two_weeks(as_teacher, cast, planned, on, status):
    answer = post(as_teacher, cast, "log-as-planned", exercise=RISES, students=[cast.ama.pk], on=on)
    assert answer.status_code == status
    assert ClassLog.objects.count() == (status == 200)


@pytest.mark.parametrize("student", ["other", "out", "nobody"])
def test_nobody_out_of_reach_or_of_another_class_is_logged(as_teacher, cast, planned, student):
    pk = {"other": cast.other_student.pk, "out": cast.out_of_reach.pk, "nobody": 999999}[student]
    for route, fields in (
        ("log-as-planned", {"students": [cast.ama.pk, pk]}), ("log-change", {"student": pk, "change": "sets:1"}),
        ("log-attendance", {"absent": [pk]}),
    ):
        assert post(as_teacher, cast, route, exercise=RISES, **fields).status_code == 404
    assert not LogEntry.objects.exists() and not Attendance.objects.exists()


def test_without_script_every_tap_is_a_form_that_leads_back_to_its_exercise(as_teacher, cast, planned):
    path = reverse("progress:log-change", args=[cast.class_group.pk])
    sent = {
        "key": str(uuid.uuid4()), "on": "2026-03-24", "exercise": RISES, "student": cast.ama.pk,
        "change": "fault:wobble",
    }
    page = as_teacher.post(path, sent, follow=True)
    assert page.redirect_chain[0][0].endswith(f"?on=2026-03-24&exercise={RISES}")
    assert "corrected, wobble" in page.content.decode()


def test_the_page_offers_to_undo_the_last_tap_by_name(as_teacher, cast, planned):
    post(as_teacher, cast, "log-change", exercise=RISES, student=cast.ama.pk, change="left_out")
    page = as_teacher.get(reverse("progress:class-log", args=[cast.class_group.pk])).content.decode()
    assert "Élevés on one foot, Ama" in page
    assert "left out" in page


def test_nothing_on_the_log_judges_or_tells_of_pain(as_teacher, cast, planned):
    """Children see the tablet."""
    page = as_teacher.get(reverse("progress:class-log", args=[cast.class_group.pk])).content.decode()
    for word in ("stalled", "slipping", "gaining", "target", "sharp"):
        assert word not in page


def test_pain_in_class_is_reported_for_a_student_of_that_class_and_leads_back_to_its_log(as_owner, cast):
    group = cast.class_group.pk
    path = reverse("progress:report-pain-in-class", args=[group, cast.ama.pk])
    sent = {"key": str(uuid.uuid4()), "region": "L-achilles", "feels": "sharp"}
    page = as_owner.post(path, sent, follow=True).content.decode()
    assert f'href="{reverse("progress:class-log", args=[group])}"' in page
    elsewhere = reverse("progress:report-pain-in-class", args=[group, cast.other_student.pk])
    assert as_owner.get(elsewhere).status_code == 404
