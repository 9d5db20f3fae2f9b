"""Adding, moving, leaving and coming back to a class by the pages, and what the forms ask back."""
import datetime as dt

import pytest
from django.urls import reverse

from studio.actions import leave_class
from studio.models import Enrolment, Guardian, Student
from tests import factories
from tests.conftest import TODAY

NELE = {"name": "Nele Vance", "birth_on": "2014-06-01", "joined_on": "2026-03-24"}


@pytest.fixture
def enrolment(cast):
    return Enrolment.objects.get(student=cast.ama)


def add(client, cast, **fields):
    return client.post(reverse("studio:add-student", args=[cast.class_group.pk]), {**NELE, **fields}, follow=True)


def leave(client, enrolment, left_on="2026-03-24"):
    return client.post(reverse("studio:leave-class", args=[enrolment.pk]), {"left_on": left_on}, follow=True)


def come_back(client, enrolment):
    return client.post(reverse("studio:return-to-class", args=[enrolment.pk]), follow=True)


def test_a_new_student_is_in_the_class_from_the_day_said_and_it_is_known_who_added_her(as_teacher, cast):
    assert "Nele Vance is in Pre-pointe A now." in add(as_teacher, cast).content.decode()
    nele = Student.objects.get(name="Nele Vance")
    enrolment = nele.enrolments.get()
    assert (enrolment.class_group, enrolment.joined_on) == (cast.class_group, TODAY)
    assert (nele.added_by, enrolment.enrolled_by) == (cast.teacher, cast.teacher)


def test_a_teacher_does_not_give_herself_back_whom_the_owner_took_out(as_teacher, cast, enrolment, client):
    """And is told nothing of her any more: from that day on she is out of the teacher's reach."""
    leave_class(enrolment=enrolment, left_on=TODAY, by=cast.owner)
    assert "Ama" not in as_teacher.get(reverse("studio:class-roster", args=[cast.class_group.pk])).content.decode()
    assert come_back(as_teacher, enrolment).status_code == 404
    enrolment.refresh_from_db()
    assert enrolment.left_on == TODAY
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    assert "Ama" in client.get(reverse("studio:class-roster", args=[cast.class_group.pk])).content.decode()
    come_back(client, enrolment)
    enrolment.refresh_from_db()
    assert enrolment.left_on is None


def test_a_teachers_own_leaving_is_hers_to_take_back_until_the_owner_writes_another(as_teacher, cast, enrolment):
    leave(as_teacher, enrolment)
    leave_class(enrolment=enrolment, left_on=TODAY, by=cast.owner)
    assert come_back(as_teacher, enrolment).status_code == 404


def test_the_same_new_student_twice_is_one_student(as_teacher, cast):
    add(as_teacher, cast)
    again = add(as_teacher, cast, name="nele  vance")
    assert again.status_code == 422
    assert "A student of this name and birth date is in the studio already." in again.content.decode()
    assert Student.objects.filter(name__iexact="nele vance").count() == 1


@pytest.mark.parametrize("fields, sentence", [
    ({"birth_on": "1900-01-01"}, "That would be an age of 126."),
    ({"birth_on": "2025-01-01"}, "That would be an age of 1."),
    ({"birth_on": "2030-01-01"}, "That would be an age of"),
    ({"birth_on": "31 of June"}, "We cannot read this as a day."),
    ({"name": " "}, "Please fill this in."),
    ({"name": "N" * 300}, "At most 120 letters, please; these are 300."),
    ({"name": "Nele\x00Vance"}, "There is a letter in it that we cannot store."),
    ({"training_since_year": "1990"}, "This is not a likely year."),
    ({"training_since_year": "2027"}, "This is not a likely year."),
    ({"training_since_year": "9" * 400}, "This is not a likely year."),
    ({"classes_per_week": "21"}, "More than 20 classes a week is not likely."),
    ({"classes_per_week": "-1"}, "At least 0, please."),
    ({"classes_per_week": "2.5"}, "A whole number, please."),
    ({"dominant_foot": "X"}, "Please pick one of the list."),
    ({"stage": "999999999999999999999"}, "Please pick one of the list."),
    ({"joined_on": ""}, "Please fill this in."),
    ({"joined_on": "9999-12-31"}, "This is not a likely day."),
])
def test_what_cannot_be_is_refused_with_a_sentence_and_stays_typed(as_teacher, cast, fields, sentence):
    before = Student.objects.count()
    answer = add(as_teacher, cast, **fields)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert 'value="Nele Vance"' in answer.content.decode() or "name" in fields
    assert Student.objects.count() == before


def test_an_unusual_age_is_asked_back_once_and_then_taken(as_owner, cast):
    asked = add(as_owner, cast, birth_on="2003-06-01")
    assert "An age of 22: sure?" in asked.content.decode()
    assert 'type="checkbox" name="age_is_right"' in asked.content.decode()
    assert not Student.objects.filter(name="Nele Vance").exists()
    add(as_owner, cast, birth_on="2003-06-01", age_is_right="on")
    assert Student.objects.get(name="Nele Vance").age_on(TODAY) == 22


def test_a_name_with_a_script_in_it_is_shown_as_text(as_teacher, cast):
    page = add(as_teacher, cast, name="<script>alert(1)</script>").content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


@pytest.mark.parametrize("key", ["x", "", "-1", "0", "1.5", "٣٤٥", "999999999999999999999", "9" * 5000, "\x00"])
def test_a_student_who_is_not_there_cannot_be_chosen_from_another_class(as_teacher, cast, key):
    path = reverse("studio:add-student", args=[cast.class_group.pk])
    assert as_teacher.post(path, {"student": key, "csrfmiddlewaretoken": "x"}).status_code in (404, 422)


def test_the_owner_puts_a_student_of_another_class_into_this_one_as_well(as_owner, cast):
    path = reverse("studio:add-student", args=[cast.class_group.pk])
    assert "Greta Holmby" in as_owner.get(path).content.decode()
    for _twice in range(2):
        as_owner.post(path, {"student": cast.other_student.pk})
    assert cast.class_group.enrolments.filter(student=cast.other_student).count() == 1
    assert cast.other_class.enrolments.get(student=cast.other_student).left_on is None


def test_leaving_is_a_date_and_can_be_taken_back(as_teacher, cast, enrolment):
    page = leave(as_teacher, enrolment).content.decode()
    assert "Ama Owiredu has left." in page
    enrolment.refresh_from_db()
    assert enrolment.left_on == TODAY
    come_back(as_teacher, enrolment)
    enrolment.refresh_from_db()
    assert enrolment.left_on is None


def test_coming_back_to_a_class_one_is_in_again_is_refused_with_a_sentence(as_teacher, cast, enrolment):
    """She left, was added anew, and then somebody takes the old leaving back."""
    leave(as_teacher, enrolment)
    Enrolment.objects.create(
        student=cast.ama, class_group=cast.class_group, term=cast.term, joined_on=TODAY, enrolled_by=cast.teacher
    )
    page = come_back(as_teacher, enrolment)
    assert page.status_code == 200
    assert "is in the class already" in page.content.decode()
    assert cast.class_group.enrolments.filter(student=cast.ama, left_on=None).count() == 1


@pytest.mark.parametrize("left_on, sentence", [
    ("", "Please fill this in."),
    ("yesterday", "We cannot read this as a day."),
    ("0000-00-00", "We cannot read this as a day."),
    ("2026-03-24\x00", "We cannot read this as a day."),
    ("0001-01-01", "This is not a likely day."),
    ("9999-12-31", "This is not a likely day."),
])
def test_leaving_needs_a_day(as_teacher, enrolment, left_on, sentence):
    answer = leave(as_teacher, enrolment, left_on)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_nobody_leaves_before_she_joined(as_teacher, cast, enrolment):
    leave(as_teacher, enrolment, "2025-01-01")
    enrolment.refresh_from_db()
    assert enrolment.left_on is None or enrolment.left_on >= enrolment.joined_on


def test_moving_ends_one_enrolment_and_begins_another_on_the_same_day(as_owner, cast, enrolment):
    data = {"class_group": cast.other_class.pk, "moved_on": "2026-03-20"}
    as_owner.post(reverse("studio:move-class", args=[enrolment.pk]), data)
    enrolment.refresh_from_db()
    new = cast.ama.enrolments.get(class_group=cast.other_class)
    assert enrolment.left_on == new.joined_on == dt.date(2026, 3, 20)


@pytest.mark.parametrize("starts_on, ends_on, sentence", [
    ("9999-07-01", "9999-12-31", "This is not a likely day."),
    ("0001-01-01", "0001-03-31", "This is not a likely day."),
    ("2026-09-07", "2026-09-06", "The last day lies before the first."),
    ("2026-09-07", "2027-12-06", "A term is at most a year."),
    ("2026-04-01", "2026-06-30", "Another term has days in common with this one."),
    ("2026-09-07", "", "Please fill this in."),
])
def test_a_term_that_cannot_be_is_refused(as_owner, cast, starts_on, ends_on, sentence):
    data = {"name": "Next term", "starts_on": starts_on, "ends_on": ends_on}
    answer = as_owner.post(reverse("studio:add-term"), data)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_a_guardian_is_kept_with_the_student_and_changed_in_place(as_teacher, cast):
    path = reverse("studio:add-guardian", args=[cast.ama.pk])
    as_teacher.post(path, {"name": "Efua Owiredu", "email": "efua@example.org", "phone": ""})
    guardian = cast.ama.guardians.get()
    path = reverse("studio:edit-guardian", args=[cast.ama.pk, guardian.pk])
    as_teacher.post(path, {"name": "Efua Owiredu", "email": "", "phone": "020 7946 0000"})
    assert Guardian.objects.get() == cast.ama.guardians.get(phone="020 7946 0000")


def test_siblings_share_the_guardian_of_one_name_and_address(as_owner, cast):
    told = {"name": "Efua Owiredu", "email": "efua@example.org", "phone": ""}
    as_owner.post(reverse("studio:add-guardian", args=[cast.ama.pk]), told)
    again = told | {"email": "Efua@Example.org", "phone": "020 7946 0000"}
    page = as_owner.post(reverse("studio:add-guardian", args=[cast.bettina.pk]), again, follow=True)
    shared = Guardian.objects.get()
    assert set(shared.students.all()) == {cast.ama, cast.bettina} and shared.phone == "020 7946 0000"
    assert "One card opens the pages of both." in page.content.decode()


def test_without_an_address_two_guardians_of_one_name_stay_two(as_owner, cast):
    for student in (cast.ama, cast.bettina):
        as_owner.post(reverse("studio:add-guardian", args=[student.pk]), {"name": "Efua Owiredu", "email": ""})
    assert Guardian.objects.count() == 2


def test_a_teacher_is_not_told_of_a_child_out_of_reach(as_teacher, cast):
    guardian = factories.GuardianFactory(name="Jo Hidden", email="jo@example.org")
    guardian.students.add(cast.out_of_reach)
    told = {"name": "Jo Hidden", "email": "jo@example.org", "phone": ""}
    page = as_teacher.post(reverse("studio:add-guardian", args=[cast.ama.pk]), told, follow=True)
    assert guardian in cast.ama.guardians.all()
    assert "on record already" not in page.content.decode()


@pytest.mark.parametrize("email", ["no address", "a@b", "<script>@example.org", "a\x00@example.org"])
def test_a_guardians_address_must_be_one(as_teacher, cast, email):
    path = reverse("studio:add-guardian", args=[cast.ama.pk])
    answer = as_teacher.post(path, {"name": "Efua Owiredu", "email": email})
    assert (answer.status_code, Guardian.objects.count()) == (422, 0)
    assert "<script>@" not in answer.content.decode()


def test_the_roster_tells_two_students_of_one_first_name_apart(as_teacher, cast):
    add(as_teacher, cast, name="Ama Vance")
    page = as_teacher.get(reverse("progress:sheet", args=[cast.screening.pk, "rises"])).content.decode()
    assert "Ama O." in page
    assert "Ama V." in page


def test_the_words_about_a_tick_box_stand_under_it_and_a_list_of_them_within_the_help(as_owner, cast):
    studio, account = (as_owner.get(path).content.decode() for path in ("/office/studio/", "/account/"))
    assert studio.index("A daily mail to everyone") < studio.index("Counts and links, no child’s name")
    assert '<div class="help"' in account and '<p class="help"' not in account
