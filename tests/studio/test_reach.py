"""Who reaches whom, on the day before, the day and the day after; and that a word that is misspelt is no answer."""
import datetime as dt
import re
from pathlib import Path

import pytest

from studio import permissions
from studio.models import Enrolment, Student
from tests.conftest import TODAY

A_DAY = dt.timedelta(days=1)


@pytest.mark.parametrize("days, is_reached", [(0, True), (59, True), (60, True), (61, False)])
def test_a_teacher_reaches_a_student_until_sixty_days_after_the_term(cast, days, is_reached):
    today = cast.term.ends_on + dt.timedelta(days=days)
    assert (cast.ama in permissions.reachable_students(cast.teacher, today=today)) is is_reached
    assert (cast.teacher in permissions.people_reaching(cast.ama, today=today)) is is_reached


@pytest.mark.parametrize("days, is_reached", [(-1, True), (0, False), (1, False)])
def test_a_student_who_leaves_a_class_is_out_of_its_teachers_reach_from_that_day_on(cast, days, is_reached):
    Enrolment.objects.filter(student=cast.ama).update(left_on=TODAY)
    today = TODAY + days * A_DAY
    assert (cast.ama in permissions.reachable_students(cast.teacher, today=today)) is is_reached
    assert (cast.teacher in permissions.people_reaching(cast.ama, today=today)) is is_reached


def test_a_teacher_reaches_the_students_of_her_classes_and_the_owner_everybody_with_a_name(cast):
    Student.objects.create(name="Former student", is_nameless=True)
    named = {cast.ama, cast.bettina, cast.other_student, cast.out_of_reach}
    assert set(permissions.reachable_students(cast.teacher, today=TODAY)) == {cast.ama, cast.bettina}
    assert set(permissions.reachable_students(cast.owner, today=TODAY)) == named
    assert set(permissions.reachable_classes(cast.teacher)) == {cast.class_group}
    assert set(permissions.reachable_classes(cast.owner)) == {cast.class_group, cast.other_class, cast.lonely_class}


def test_a_student_is_reached_by_the_owners_and_the_teachers_of_her_classes_once_each(cast):
    again = cast.lonely_class
    again.teachers.add(cast.teacher)
    Enrolment.objects.create(student=cast.ama, class_group=again, term=cast.term, joined_on=TODAY)
    assert sorted(person.username for person in permissions.people_reaching(cast.ama, today=TODAY)) == [
        "davit", "ottoline"]
    assert list(permissions.people_reaching(cast.out_of_reach, today=TODAY).order_by("pk")) == [
        cast.owner, cast.teacher]


@pytest.mark.parametrize("who", ["owner", "teacher"])
def test_whoever_has_left_the_studio_reaches_nobody_and_may_nothing(cast, who):
    person = getattr(cast, who)
    assert permissions.may(person, "measure")
    person.is_active = False
    person.save()
    assert person not in permissions.people_reaching(cast.ama, today=TODAY)
    assert not any(permissions.may(person, name) for name in permissions.PERMISSIONS)


def test_a_teacher_may_what_her_role_holds_and_nothing_of_the_owners(cast):
    may = {name for name in permissions.PERMISSIONS if permissions.may(cast.teacher, name)}
    assert may == {"measure", "teach", "follow_up", "edit_roster"}
    assert all(permissions.may(cast.owner, name) for name in permissions.PERMISSIONS)


@pytest.mark.parametrize("ask", [lambda person: permissions.may(person, "mesure"),
                                 lambda _person: permissions.only("mesure")])
def test_a_misspelt_permission_is_an_error_and_not_a_no(cast, ask):
    with pytest.raises(KeyError):
        ask(cast.owner)


def test_a_pin_opens_what_teachers_do_whoever_came_in_by_it(rf, cast):
    request = rf.get("/")
    for way, opens in (("password", set(permissions.PERMISSIONS)), ("code", set(permissions.PERMISSIONS)),
                       ("pin", set(permissions.BY_PIN))):
        request.user, request.session = cast.owner, {"way": way}
        assert {name for name in permissions.PERMISSIONS if permissions.visit_may(request, name)} == opens


def test_no_view_and_no_template_asks_for_the_role_alone():
    """But where the words say what another way of coming in would open."""
    house = Path(__file__).resolve().parents[2]
    files = [*house.glob("*/views/**/*.py"), *house.glob("*/templatetags/*.py"), *house.glob("templates/**/*.html")]
    asks = re.compile(r"(?<!\w)may\(|\buser\.role\b")
    found = {path.relative_to(house).as_posix(): len(asks.findall(path.read_text(encoding="utf-8"))) for path in files}
    assert {path: count for path, count in found.items() if count} == {"progress/views/follow_ups.py": 1}
