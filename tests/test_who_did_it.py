"""Every action says who acts, uses it and leaves it in the rows: walked through, and stored one by one."""
import ast
from pathlib import Path

import pytest

from progress.actions.classwork.programme import move_in_order, plan_exercise
from progress.actions.papers.reports import order_reports, stop_order
from progress.models import Exercise, IssuedReport
from progress.rules.dose import Dose
from screening.actions import close_screening, reopen_screening, save_battery, save_measure
from studio import actions
from studio.family.actions import make_key, prolong_key, remove_guardian
from studio.models import Deed, Guardian

CHECKOUT = Path(__file__).resolve().parents[1]
FILES = sorted(
    path for app in ("studio", "screening", "progress") for path in (CHECKOUT / app).rglob("*.py")
    if path.name == "actions.py" or "actions" in path.parts
)


def forgets_who(text: str) -> list[str]:
    """The functions that ask who acts and then never say it to anybody."""
    return [
        node.name for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef)
        and "by" in {each.arg for each in node.args.args + node.args.kwonlyargs}
        and not any(isinstance(inner, ast.Name) and inner.id == "by" for line in node.body for inner in ast.walk(line))
    ]


def test_every_action_uses_who_acts():
    assert {path.name: names for path in FILES if (names := forgets_who(path.read_text()))} == {}


def test_an_action_that_forgets_who_acts_is_found():
    assert forgets_who("def close(*, day, by):\n    day.save()\n\ndef open(*, day, by):\n    day.by = by") == ["close"]


def reopen(cast, by):
    close_screening(screening=cast.screening, by=cast.other_teacher)
    reopen_screening(screening=cast.screening, by=by)
    return cast.screening


def leave(cast, by):
    actions.leave_class(enrolment=cast.ama.enrolments.get(), left_on=cast.term.ends_on, by=by)
    return cast.ama.enrolments.get()


def come_back(cast, by):
    actions.return_to_class(enrolment=leave(cast, cast.other_teacher), by=by)
    return cast.ama.enrolments.get()


def turn_the_line(cast, by):
    actions.set_barre_order(enrolments=list(cast.class_group.enrolments.order_by("-pk")), by=by)
    return cast.class_group


def set_size(cast, by):
    actions.set_group_size(class_group=cast.class_group, size=3, by=by)
    return cast.class_group


def give_password(cast, by):
    actions.new_password(person=cast.teacher, by=by)
    return cast.teacher


def a_guardian(cast, by) -> Guardian:
    guardian = Guardian(name="Family Owiredu")
    actions.save_guardian(guardian=guardian, student=cast.ama, by=by)
    return guardian


def take_guardian_away(cast, by):
    guardian = a_guardian(cast, cast.other_teacher)
    remove_guardian(guardian=guardian, student=cast.ama, by=by)
    return guardian


def prolong(cast, by):
    guardian = a_guardian(cast, cast.other_teacher)
    make_key(guardian=guardian, term=cast.term, by=cast.other_teacher)
    prolong_key(key=guardian.keys.get(), term=cast.term, by=by)
    return guardian.keys.get()


def change_measure(cast, by):
    save_measure(measure=cast.rises, by=by)
    return cast.rises


def change_battery(cast, by):
    save_battery(battery=cast.screening.battery, measures=[cast.rises], by=by)
    return cast.screening.battery


def move_exercise(cast, by):
    for exercise in Exercise.objects.order_by("pk")[:2]:
        last = plan_exercise(
            class_group=cast.class_group, term=cast.term, exercise=exercise, student=None, step=None,
            dose=Dose(1, 8, None), is_spared=False, note="", reason="", added_on=cast.term.starts_on,
            by=cast.other_teacher,
        )
    move_in_order(entry=last, earlier=True, by=by)
    return last


def stop_printing(cast, by):
    run = order_reports(
        term=cast.term, kind=IssuedReport.RECORD, size="A4", students=[cast.ama], asked_on=cast.term.ends_on,
        by=cast.other_teacher,
    )
    stop_order(run=run, by=by)
    return run


@pytest.mark.parametrize("act, what", [
    (reopen, Deed.REOPENED), (leave, Deed.LEFT), (come_back, Deed.RETURNED), (turn_the_line, Deed.CHANGED),
    (set_size, Deed.CHANGED), (give_password, Deed.NEW_PASSWORD), (a_guardian, Deed.CHANGED),
    (take_guardian_away, Deed.REMOVED), (prolong, Deed.PROLONGED), (change_measure, Deed.CHANGED),
    (change_battery, Deed.CHANGED), (move_exercise, Deed.CHANGED), (stop_printing, Deed.STOPPED),
])
def test_who_did_it_is_kept_where_the_row_itself_only_says_how_it_is(cast, act, what):
    row = act(cast, cast.owner)
    kept = Deed.objects.filter(by=cast.owner).get()
    assert (kept.what, kept.table, kept.row_key) == (what, row._meta.label_lower, row.pk)
