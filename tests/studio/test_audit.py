"""The audit: who did what to whom from where, appended only, in numbers; and what each kind of answer leaves in it."""
import datetime as dt

import pytest
from django.core.cache import cache
from django.db import DatabaseError, models
from django.test import Client
from django.urls import reverse
from django_otp.plugins.otp_totp.models import TOTPDevice

from progress.actions.papers.reports import order_reports
from studio.audit import middleware
from studio.audit.models import AuditRow
from studio.entrance.actions import enrol_tablet, set_pin
from tests.conftest import PASSWORD
from tests.doors import address, furnish

IPAD = "Mozilla/5.0 (iPad; CPU OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Safari/604.1"


def rows(**which) -> list[tuple]:
    wanted = AuditRow.objects.filter(**which).order_by("pk")
    return list(wanted.values_list("role", "person_key", "outcome", "page", "student_key", "class_key"))


def last() -> tuple:
    return rows()[-1]


# --- the table ------------------------------------------------------------------------------------


@pytest.mark.parametrize("change", [
    lambda row: row.save(), lambda row: row.delete(), lambda row: AuditRow.objects.update(page="another"),
    lambda row: AuditRow.objects.filter(pk=row.pk).delete(), lambda row: AuditRow.objects.bulk_update([row], ["page"]),
])
def test_a_row_is_never_changed_and_never_deleted(db, change):
    row = AuditRow.objects.create(role="owner", person_key=1, outcome="saw", page="progress:student", student_key=7)
    with pytest.raises(TypeError, match="never changed and never deleted"):
        change(row)
    assert rows() == [("owner", 1, "saw", "progress:student", 7, None)]


def test_the_audit_hangs_on_nothing_and_nothing_hangs_on_it():
    fields = AuditRow._meta.get_fields()
    assert [field.name for field in fields if field.is_relation] == []
    texts = {field.name for field in fields if isinstance(field, models.CharField | models.TextField)}
    # Words that the program itself chose; none is typed by anybody but the browser's, which is cut to names we know.
    assert texts == {"role", "outcome", "page", "browser"}


# --- what is written ------------------------------------------------------------------------------


def test_a_students_page_is_a_row_about_her(as_teacher, cast):
    as_teacher.get(reverse("progress:student", args=[cast.ama.pk]), headers={"User-Agent": IPAD})
    assert last() == ("teacher", cast.teacher.pk, "saw", "progress:student", cast.ama.pk, None)
    assert AuditRow.objects.first().browser == "Safari, iPad"


def test_a_class_sheet_is_one_row_about_the_class_however_many_are_on_it(as_teacher, cast):
    as_teacher.get(reverse("progress:class-sheet", args=[cast.class_group.pk]))
    assert rows(page="progress:class-sheet") == [
        ("teacher", cast.teacher.pk, "saw", "progress:class-sheet", None, cast.class_group.pk)
    ]


def test_the_same_look_within_three_minutes_is_one_row_and_another_students_is_another(as_teacher, cast, time_machine):
    page = reverse("progress:student", args=[cast.ama.pk])
    for _n in range(3):
        as_teacher.get(page)
    as_teacher.get(reverse("progress:student", args=[cast.bettina.pk]))
    assert [row[4] for row in rows(page="progress:student")] == [cast.ama.pk, cast.bettina.pk]
    time_machine.shift(dt.timedelta(seconds=181))
    as_teacher.get(page)
    assert len(rows(page="progress:student", student_key=cast.ama.pk)) == 2


def test_every_change_is_a_row_however_fast(as_teacher, cast):
    for _n in range(3):
        as_teacher.post(reverse("progress:close-screening", args=[cast.screening.pk]))
    assert [row[2:4] for row in rows()] == [("changed", "progress:close-screening")] * 3


def test_a_form_that_comes_back_changed_nothing(as_teacher, cast):
    as_teacher.post(reverse("progress:edit-student", args=[cast.ama.pk]), {"name": ""})
    assert last()[2:5] == ("saw", "progress:edit-student", cast.ama.pk)


def test_a_record_and_a_terms_data_are_copies(as_owner, cast):
    as_owner.get(reverse("progress:student-record", args=[cast.ama.pk]))
    assert last() == ("owner", cast.owner.pk, "exported", "progress:student-record", cast.ama.pk, None)
    as_owner.get(reverse("progress:term-results", args=[cast.term.pk]))
    assert last() == ("owner", cast.owner.pk, "exported", "progress:term-results", None, None)


@pytest.mark.django_db(transaction=True)
def test_a_report_printed_in_the_background_is_a_copy_by_whoever_ordered_it(cast, settings, tmp_path):
    settings.VAR_DIR = tmp_path
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
    furnish(cast)
    order_reports(
        term=cast.term, kind="record", size="A4", students=[cast.ama], asked_on=cast.screening.held_on, by=cast.owner
    )
    assert rows(outcome="exported") == [("studio", cast.owner.pk, "exported", "term-reports", cast.ama.pk, None)]


def test_news_of_a_class_is_a_row_in_three_minutes_and_a_poll_that_hears_nothing_is_none(as_teacher, cast):
    """What a tablet hears of the others is children's results, as much as the sheet itself."""
    for name, key in (("news", (cast.screening.pk, "rises")), ("log-news", (cast.class_group.pk,))):
        address = reverse(f"progress:{name}", args=key)
        stamp = as_teacher.get(address).json()["stamp"]
        for _n in range(3):
            assert as_teacher.get(f"{address}?seen={stamp}").status_code == 204
            as_teacher.get(address)
        assert [row[2:] for row in rows(page=f"progress:{name}")] == [
            ("saw", f"progress:{name}", None, cast.class_group.pk)]


def test_signs_of_life_and_the_worker_are_not_worth_a_row(as_teacher, cast):
    as_teacher.post(reverse("studio:still-here"))
    as_teacher.get(reverse("studio:fresh-token"))
    as_teacher.get(reverse("progress:worker"))
    assert rows() == []


def test_a_row_that_cannot_be_written_is_logged_and_the_page_comes(as_teacher, cast, monkeypatch, caplog):
    def full(**row):
        raise DatabaseError("disk full at /srv/Ama")

    monkeypatch.setattr(middleware, "append", full)
    assert as_teacher.get(reverse("progress:student", args=[cast.ama.pk])).status_code == 200
    assert "an audit row could not be written" in caplog.text
    assert "Ama" not in caplog.text


# --- who came and went, who was refused -------------------------------------------------------------


def test_coming_in_and_going_out(client, cast):
    client.post("/login/", {"username": "davit", "password": PASSWORD})
    assert last() == ("teacher", cast.teacher.pk, "came_in", "studio:login", None, None)
    client.post(reverse("studio:logout"))
    assert last() == ("teacher", cast.teacher.pk, "went_out", "studio:logout", None, None)


def test_a_wrong_password_names_the_door_and_never_what_was_typed(client, cast):
    client.post("/login/", {"username": "davit", "password": "guess"})
    client.post("/login/", {"username": "my-secret-pass", "password": "guess"})
    assert rows() == [
        ("nobody", cast.teacher.pk, "refused", "studio:login", None, None),
        ("nobody", None, "refused", "studio:login", None, None),
    ]


def test_each_guess_at_a_pin_is_a_row_with_the_tablet_it_was_made_on(client, cast):
    set_pin(person=cast.teacher, pin="4071")
    tablet, client.cookies["tablet"] = enrol_tablet(name="Tablet", by=cast.owner)
    for pin in ("4072", "4073", "4074", "4075", "4076", "4071"):
        client.post(reverse("studio:pin-login"), {"person": cast.teacher.pk, "pin": pin})
    assert rows(outcome="refused") == [("nobody", cast.teacher.pk, "refused", "studio:pin-login", None, None)] * 6
    assert set(AuditRow.objects.values_list("tablet_key", flat=True)) == {tablet.pk}


def test_swapped_ids_are_written_with_the_student_who_was_asked_for(as_teacher, cast):
    keys = furnish(cast)
    as_teacher.get(reverse("progress:student", args=[cast.out_of_reach.pk]))
    assert last() == ("teacher", cast.teacher.pk, "refused", "progress:student", cast.out_of_reach.pk, None)
    as_teacher.get(reverse("studio:office"))
    assert last()[2:4] == ("refused", "studio:office")
    as_teacher.get(reverse("progress:student", args=[2**70]))
    assert last()[2:5] == ("refused", "progress:student", None)
    assert as_teacher.get(address("progress:student", keys)).status_code == 200


def test_a_form_from_another_site_is_refused_and_written(cast):
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.teacher, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.post(
        reverse("progress:close-screening", args=[cast.screening.pk]), headers={"Origin": "https://elsewhere.example"}
    )
    assert answer.status_code == 403
    assert last()[1:4] == (cast.teacher.pk, "refused", "progress:close-screening")


def test_back_after_logging_out_is_refused_and_written(as_teacher, cast):
    page = reverse("progress:student", args=[cast.ama.pk])
    assert "no-store" in as_teacher.get(page).headers["Cache-Control"]
    as_teacher.post(reverse("studio:logout"))
    assert as_teacher.get(page).status_code == 302
    # Nobody was let far enough to know whom the page is about.
    assert last() == ("nobody", None, "refused", "progress:student", None, None)


# --- the owner's search -------------------------------------------------------------------------------


def searched(client, **asked) -> list:
    page = client.get(reverse("studio:audit"), asked).context["page"]
    return [(line.who, line.row.outcome, line.row.page, line.about) for line in page.lines]


@pytest.fixture
def looked_at(cast):
    teacher, other = Client(), Client()
    for client, person in ((teacher, cast.teacher), (other, cast.other_teacher)):
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    teacher.get(reverse("progress:student", args=[cast.ama.pk]))
    teacher.get(reverse("progress:class-sheet", args=[cast.class_group.pk]))
    other.get(reverse("progress:student", args=[cast.ama.pk]))
    other.get(reverse("progress:student", args=[cast.other_student.pk]))


def test_a_student_is_searched_by_name_with_the_pages_of_her_class(as_owner, cast, looked_at):
    assert searched(as_owner, student="owiredu") == [
        ("Selma Quist", "refused", "progress:student", "Ama Owiredu"),
        ("Davit Meskhi", "saw", "progress:class-sheet", "Pre-pointe A"),
        ("Davit Meskhi", "saw", "progress:student", "Ama Owiredu"),
    ]
    assert searched(as_owner, student=str(cast.other_student.pk)) == [
        ("Selma Quist", "saw", "progress:student", "Greta Holmby")
    ]
    assert searched(as_owner, student="nobody of that name") == []


def test_a_person_and_a_day_are_searched(as_owner, cast, looked_at):
    assert {line[0] for line in searched(as_owner, person=f"user-{cast.teacher.pk}")} == {"Davit Meskhi"}
    assert searched(as_owner, day="2026-03-23") == []
    assert len(searched(as_owner, day="2026-03-24", person=f"user-{cast.other_teacher.pk}")) == 2


@pytest.mark.parametrize("asked", [
    {"day": "yesterday"}, {"day": "0001-01-01"}, {"day": "9999-12-31"}, {"person": "user-x"},
    {"person": "user-" + "9" * 30}, {"before": "9" * 30}, {"student": "9" * 30}, {"person": "''"},
])
def test_a_question_that_makes_no_sense_is_answered(as_owner, asked):
    assert as_owner.get(reverse("studio:audit"), asked).status_code == 200


def test_a_long_audit_is_read_page_by_page_in_as_many_questions(as_owner, cast, django_assert_max_num_queries):
    AuditRow.objects.bulk_create(
        AuditRow(role="teacher", person_key=cast.teacher.pk, outcome="saw", page="progress:student", student_key=n)
        for n in range(1, 121)
    )
    with django_assert_max_num_queries(20):
        first = as_owner.get(reverse("studio:audit"), {"person": f"user-{cast.teacher.pk}"})
    second = as_owner.get(f"{reverse('studio:audit')}?{first.context['older']}")
    third = as_owner.get(f"{reverse('studio:audit')}?{second.context['older']}")
    keys = [line.row.student_key for answer in (first, second, third) for line in answer.context["page"].lines]
    assert keys == list(range(120, 0, -1))
    assert third.context["page"].older is None
    cache.clear()


def test_a_wrong_code_is_written_with_the_person_whose_password_was_right(client, cast):
    TOTPDevice.objects.create(user=cast.teacher, key="3132333435363738393031323334353637383930")
    client.post("/login/", {"username": "davit", "password": PASSWORD})
    client.post(reverse("studio:login-code"), {"code": "000000"})
    assert last() == ("nobody", cast.teacher.pk, "refused", "studio:login-code", None, None)
    assert rows(outcome="came_in") == []
