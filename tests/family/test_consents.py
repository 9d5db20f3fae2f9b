"""Consent is a fact with who, when and how; without it nothing is asked, kept or shown, from that very instant."""
import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from progress.actions import measuring, pain
from progress.actions.classwork import class_log
from progress.actions.growth import record_height
from progress.models import Exercise, PainReport
from progress.queries.resting import rests
from progress.rules.resting import ONE_FOOT
from screening.actions import Entry
from screening.models import Result
from studio.actions import Refused, make_owner
from studio.family import queries
from studio.models import Consent, Enrolment, Studio, Term, User
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree, family_of
from tests.family.test_withdrawn import readable
from tests.screening.test_results_import import bring, confirm, reasons

NOON = dt.datetime(2026, 3, 24, 12, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)


def asks(cast, since=dt.date(2026, 1, 1)) -> None:
    Studio.objects.filter(pk=1).update(consent_asked_from=since)


# --- what holds when -----------------------------------------------------------------------------


def test_a_withdrawal_at_noon_holds_at_a_minute_past_and_not_before(cast):
    agree(cast, cast.ama, Consent.MEASUREMENTS, at=NOON - dt.timedelta(days=9))
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False, at=NOON)
    found = [queries.consented([cast.ama.pk], Consent.MEASUREMENTS, NOON + shift) for shift in (-MINUTE, MINUTE)]
    assert found == [{cast.ama.pk}, set()]


def test_the_latest_fact_counts_whenever_it_was_typed(cast):
    agree(cast, cast.ama, Consent.PAIN, is_given=False, at=NOON)
    agree(cast, cast.ama, Consent.PAIN, at=NOON - dt.timedelta(days=30))
    assert queries.consented([cast.ama.pk], Consent.PAIN, NOON + MINUTE) == set()


def test_of_two_facts_of_one_instant_the_one_typed_last_counts(cast):
    agree(cast, cast.ama, Consent.PAIN, at=NOON)
    agree(cast, cast.ama, Consent.PAIN, is_given=False, at=NOON)
    assert queries.consented([cast.ama.pk], Consent.PAIN, NOON) == set()


@pytest.mark.parametrize("since, agreed", [(None, True), (dt.date(2026, 3, 25), True), (dt.date(2026, 3, 24), False)])
def test_who_said_nothing_counts_as_agreed_until_the_day_from_which_the_studio_asks(cast, since, agreed):
    asks(cast, since)
    for scope in (Consent.MEASUREMENTS, Consent.PAIN):
        assert (cast.ama.pk in queries.consented([cast.ama.pk], scope, NOON)) is agreed
        assert queries.withheld(scope, NOON).filter(pk=cast.ama.pk).exists() is not agreed


@pytest.mark.parametrize("scope", [Consent.FAMILY, Consent.CLINICIAN])
def test_sharing_always_needs_a_recorded_consent(cast, scope):
    assert queries.consented([cast.ama.pk], scope, NOON) == set()
    agree(cast, cast.ama, scope, at=NOON)
    assert queries.consented([cast.ama.pk], scope, NOON) == {cast.ama.pk}


def test_a_withdrawal_counts_also_where_the_studio_does_not_ask(cast):
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False, at=NOON)
    assert queries.agreed_scopes(cast.ama, NOON) == {Consent.PAIN}


def test_a_new_studio_asks_from_its_first_day_and_an_upgraded_one_is_left_as_it_was(db, on_the_day):
    make_owner(username="ottoline", name="Owner")
    assert Studio.current().consent_asked_from == TODAY
    Studio.objects.all().delete()
    User.objects.all().delete()
    Studio.objects.create(pk=1)
    make_owner(username="ottoline", name="Owner")
    assert Studio.current().consent_asked_from is None


def test_a_consent_without_anybody_who_recorded_it_is_the_familys_own_or_none(cast):
    facts = {"student": cast.ama, "scope": "pain", "is_given": True, "said_by": "x", "at": NOON}
    Consent.objects.create(way=Consent.PAGE, **facts)
    with pytest.raises(IntegrityError), transaction.atomic():
        Consent.objects.create(way=Consent.FORM, **facts)


# --- nothing is asked and nothing kept -----------------------------------------------------------


def test_no_result_is_taken_of_a_student_without_consent(cast):
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    with pytest.raises(Refused, match="not agreed"):
        measuring.record_result(
            key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side="L",
            entry=Entry(value=Decimal(14)), by=cast.teacher,
        )
    assert not Result.objects.exists()


def test_a_tap_that_was_stored_before_the_withdrawal_and_is_sent_again_is_answered_as_stored(cast):
    tap = {"key": uuid.uuid4(), "screening": cast.screening, "student": cast.ama, "measure": cast.rises, "side": "L",
           "entry": Entry(value=Decimal(14)), "by": cast.teacher}
    first = measuring.record_result(**tap)
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    assert measuring.record_result(**tap) == first


def test_no_pain_note_is_asked_for_or_kept_and_the_next_step_is_told_all_the_same(cast, as_teacher):
    agree(cast, cast.ama, Consent.PAIN, is_given=False)
    path = reverse("progress:report-pain-of-student", args=[cast.ama.pk])
    asked = as_teacher.get(path).content.decode()
    assert "nothing is saved" in asked and "Stop for today." in asked and 'name="feels"' not in asked
    sent = {"key": uuid.uuid4(), "region": "L-achilles", "feels": "sharp"}
    assert as_teacher.post(path, sent).status_code == 422
    assert not PainReport.objects.exists()


def test_who_rests_goes_on_resting_after_pain_notes_are_taken_back_without_a_word_why(cast):
    pain.report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=["L-heel"], feels=["sharp"], intensity=6, stopped="exercise", note="", reported_on=TODAY, by=cast.owner,
    )
    agree(cast, cast.ama, Consent.PAIN, is_given=False)
    rest = rests([cast.ama.pk], now=timezone.now())[cast.ama.pk]
    assert rest.forbids(ONE_FOOT)
    assert (rest.words, rest.is_pain, rest.is_told) == ("not asked", False, False)


# --- recorded ------------------------------------------------------------------------------------


def record(client, student, **more):
    data = {"scopes": ["pain"], "answer": "given", "said_by": "Abena Owiredu", "way": "form", "on": "2026-03-24"}
    return client.post(reverse("studio:consents", args=[student.pk]), data | more)


def test_a_recorded_consent_says_who_when_how_and_by_whom(cast, as_teacher):
    record(as_teacher, cast.ama, scopes=["pain", "family"])
    fact = cast.ama.consents.get(scope="family")
    assert (fact.said_by, fact.way, fact.recorded_by, fact.is_given) == ("Abena Owiredu", "form", cast.teacher, True)
    assert fact.at == timezone.now()


def test_facts_are_appended_and_none_is_changed(cast, as_teacher):
    record(as_teacher, cast.ama)
    before = cast.ama.consents.values().get()
    record(as_teacher, cast.ama, answer="taken_back", way="spoken")
    assert cast.ama.consents.values().get(pk=before["id"]) == before
    assert cast.ama.consents.count() == 2


@pytest.mark.parametrize("wrong", [
    {"scopes": []}, {"scopes": ["weight"]}, {"answer": "perhaps"}, {"said_by": ""}, {"said_by": "\x00"},
    {"way": "page"}, {"on": "2026-03-25"}, {"on": "1026-03-24"}, {"on": ""}, {"said_by": "x" * 121},
])
def test_what_is_no_answer_is_refused_and_nothing_is_recorded(cast, as_teacher, wrong):
    assert record(as_teacher, cast.ama, **wrong).status_code == 422
    assert not Consent.objects.exists()


def test_a_pile_of_forms_is_recorded_for_those_ticked_whoever_is_on_record(cast, as_owner):
    """One guardian signs by being on record; with two or none the form says who, typed beside the name or not."""
    factories.GuardianFactory(name="Abena Owiredu").students.add(cast.ama)
    for name in ("Jan Krall", "Eva Krall"):
        factories.GuardianFactory(name=name).students.add(cast.bettina)
    data = {"student": [cast.ama.pk, cast.bettina.pk, cast.out_of_reach.pk], "scopes": ["measurements", "pain"],
            "answer": "given", "way": "form", "on": "2026-03-20", f"signed-{cast.bettina.pk}": " Eva Krall "}
    path = reverse("studio:families", args=[cast.class_group.pk])
    assert "Recorded for 2." in as_owner.post(path, data, follow=True).content.decode()
    assert set(Consent.objects.values_list("student__name", "scope", "said_by")) == {
        ("Ama Owiredu", "measurements", "Abena Owiredu"), ("Ama Owiredu", "pain", "Abena Owiredu"),
        ("Bettina Krall", "measurements", "Eva Krall"), ("Bettina Krall", "pain", "Eva Krall"),
    }


def test_a_list_without_guardians_does_not_keep_anybodys_consent_out_of_a_pile(cast, as_owner):
    data = {"student": [cast.ama.pk, cast.bettina.pk], "scopes": ["measurements"], "answer": "given", "way": "form",
            "on": "2026-03-20"}
    as_owner.post(reverse("studio:families", args=[cast.class_group.pk]), data)
    assert set(Consent.objects.values_list("student__name", "said_by")) == {
        ("Ama Owiredu", "whoever signed the form"), ("Bettina Krall", "whoever signed the form")}


def test_a_family_takes_a_consent_back_on_its_own_page_and_it_holds_at_once(cast, amas, as_owner):
    amas.client.post(reverse("progress:family-take-back", args=[cast.ama.pk]), {"scope": "measurements"})
    fact = cast.ama.consents.get(is_given=False)
    assert (fact.said_by, fact.way, fact.recorded_by) == (amas.guardian.name, Consent.PAGE, None)
    assert as_owner.get(reverse("progress:results", args=[cast.ama.pk])).status_code == 404


def test_after_the_page_itself_is_taken_back_no_link_shows_it(cast, amas):
    second = family_of(cast, cast.ama)
    amas.client.post(reverse("progress:family-take-back", args=[cast.ama.pk]), {"scope": "family"})
    for client in (amas.client, second.client, Client()):
        assert client.get(reverse("progress:family-child", args=[cast.ama.pk])).status_code == 404
    assert "Nothing is shared" in amas.client.get(reverse("progress:family")).content.decode()


def test_a_scope_that_is_none_takes_nothing_back(cast, amas):
    amas.client.post(reverse("progress:family-take-back", args=[cast.ama.pk]), {"scope": "everything"})
    assert not cast.ama.consents.filter(is_given=False).exists()


# --- kept until ----------------------------------------------------------------------------------


@pytest.mark.parametrize("day, months, later", [
    ((2024, 2, 29), 12, (2025, 2, 28)), ((2026, 12, 31), 2, (2027, 2, 28)), ((2026, 11, 30), 1, (2026, 12, 30)),
    ((2026, 10, 31), 1, (2026, 11, 30)), ((2026, 1, 15), 24, (2028, 1, 15)),
])
def test_months_end_on_the_same_day_or_the_last_of_a_shorter_month(day, months, later):
    assert queries.months_after(dt.date(*day), months) == dt.date(*later)


def test_who_left_long_enough_ago_is_due_from_the_day_on_and_not_before(cast, as_owner, time_machine):
    cast.studio.months_kept = 2
    cast.studio.save()
    cast.ama.enrolments.update(left_on=dt.date(2026, 1, 24))
    path = reverse("studio:leavers")
    assert "Ama Owiredu" in as_owner.get(path).content.decode()
    assert "1 student due for erasure" in as_owner.get(reverse("studio:office")).content.decode()
    time_machine.move_to(dt.datetime(2026, 3, 23, 12, tzinfo=dt.UTC))
    assert "Ama Owiredu" not in as_owner.get(path).content.decode()


def test_who_is_still_in_a_class_is_never_due(cast, as_owner):
    cast.studio.months_kept = 1
    cast.studio.save()
    cast.ama.enrolments.update(left_on=dt.date(2026, 1, 24))
    factories.EnrolmentFactory(student=cast.ama, class_group=cast.other_class, term=cast.term)
    assert "Ama Owiredu" not in as_owner.get(reverse("studio:leavers")).content.decode()


def test_a_height_is_a_measurement_too(cast, as_owner):
    record_height(student=cast.ama, height_cm=Decimal("148.5"), measured_on=TODAY, by=cast.owner)
    path = reverse("progress:heights", args=[cast.ama.pk])
    assert "148.5" in as_owner.get(path).content.decode()
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    assert as_owner.get(path).status_code == 404


def test_past_results_of_a_student_without_consent_are_refused_row_by_row(cast, as_owner):
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    rows = "student,measure,side,attempt,value,date\nAma Owiredu,rises,left,1,14,2026-03-10\n"
    preview = bring(as_owner, cast, f"{rows}Bettina Krall,rises,left,1,15,2026-03-10\n")
    assert "The family has not agreed to measurements." in reasons(preview)
    confirm(as_owner, preview)
    assert set(Result.objects.values_list("student__name", flat=True)) == {"Bettina Krall"}


def test_what_was_logged_in_class_is_neither_shown_nor_added_to_without_consent(cast, as_owner):
    day, exercise = class_log.ClassDay(cast.class_group, cast.term, TODAY), Exercise.objects.get(key="short-foot")
    tap = {"day": day, "student": cast.ama, "exercise": exercise, "by": cast.owner}
    class_log.log_change(key=uuid.uuid4(), change="sets:3", **tap)
    record = reverse("progress:student-record", args=[cast.ama.pk])
    assert "Short foot" in readable(as_owner.get(record))
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    assert "Short foot" not in readable(as_owner.get(record))
    assert as_owner.get(reverse("progress:student-work", args=[cast.ama.pk])).status_code == 404
    with pytest.raises(Refused, match="not asked"):
        class_log.log_change(key=uuid.uuid4(), change="sets:2", **tap)


def test_a_pile_is_ticked_for_all_for_whoever_has_not_answered_or_for_nobody_in_one_click(as_teacher, cast):
    agree(cast, cast.ama)
    path = f"/classes/{cast.class_group.pk}/families/"
    for asked, names in (("", []), ("?tick=none", []), ("?tick=all", [cast.ama, cast.bettina]),
                         ("?tick=open", [cast.bettina])):
        page = as_teacher.get(path + asked).content.decode()
        assert as_teacher.get(path + asked).context["chosen"] == {str(child.pk) for child in names}
        assert page.count('name="student"') == 2 and "?tick=all" in page


def test_no_scope_is_ticked_before_anything_was_read(as_teacher, cast):
    form = as_teacher.get(f"/classes/{cast.class_group.pk}/families/").context["form"]
    assert not form["scopes"].value()


def test_the_families_of_a_class_are_those_of_this_term(cast):
    """Whoever was in the class last term only, and never left it by date, is no family of this one."""
    last = Term.objects.create(
        name="Autumn term", starts_on=TODAY - dt.timedelta(days=200), ends_on=TODAY - dt.timedelta(days=110)
    )
    Enrolment.objects.create(
        student=cast.other_student, class_group=cast.class_group, term=last, joined_on=last.starts_on)
    rows = queries.class_families(cast.class_group, cast.term, at=timezone.now(), today=TODAY)
    assert [row.student for row in rows] == [cast.ama, cast.bettina]
