"""A file that was brought in is taken back as a whole, unless something hangs on its rows by now."""
import datetime as dt

import pytest
from django.urls import reverse

from progress.actions.standings import rebuild_standings
from progress.actions.undoing import undo_import
from progress.models import Standing
from screening.models import Result
from studio.actions import Refused
from studio.family.actions import record_consent
from studio.models import Consent, Enrolment, Guardian, KeptImport, StageChange, Student
from tests.screening.test_results_import import bring as bring_results
from tests.screening.test_results_import import confirm as confirm_results
from tests.screening.test_results_import import table
from tests.studio.test_roster_asks import send
from tests.studio.test_roster_import import bring

LIST = (
    "Name,Born,Stage,Guardian,E-mail\n"
    "Nele Vance,2014-06-01,pre-pointe,Jo Vance,jo@x.org\n"
    "Mia Vance,2012-02-02,,Jo Vance,jo@x.org\n"
    "Ama Owiredu,2014-05-01,foundation,Efua Owiredu,efua@x.org\n"
)


def everything():
    return (
        list(Student.objects.order_by("pk").values("pk", "name", "birth_on", "stage", "called")),
        list(Guardian.objects.order_by("pk").values("pk", "name", "email", "phone", "students")),
        list(Enrolment.objects.order_by("pk").values("pk", "student", "class_group", "left_on")),
        list(StageChange.objects.order_by("pk").values("pk", "student", "stage")),
    )


@pytest.fixture
def kept(as_owner, cast):
    Guardian.objects.create(name="Efua Owiredu").students.add(cast.ama)
    cast.before = everything()
    send(as_owner, bring(as_owner, cast, LIST))
    return KeptImport.objects.get()


def take_back(client, kept):
    return client.post(reverse("progress:take-import-back", args=[kept.pk]), follow=True)


def test_a_roster_that_is_taken_back_leaves_the_studio_as_it_was(as_owner, cast, kept):
    assert everything() != cast.before
    page = take_back(as_owner, kept).content.decode()
    assert everything() == cast.before
    assert "taken back on" in page and "Take roster.csv back" not in page
    kept.refresh_from_db()
    assert (kept.undone_by, kept.written) == (cast.owner, {})
    assert "can no longer be taken back" in take_back(as_owner, kept).content.decode()


def test_with_something_written_about_a_child_since_nothing_at_all_is_taken_back(as_owner, cast, kept):
    nele = Student.objects.get(name="Nele Vance")
    record_consent(
        student=nele, scopes=[Consent.MEASUREMENTS], is_given=True, at=dt.datetime(2026, 3, 24, tzinfo=dt.UTC),
        said_by="Jo Vance", way=Consent.WAYS[0][0], by=cast.owner,
    )
    after = everything()
    page = take_back(as_owner, kept).content.decode()
    assert "Something was written about them since: Nele Vance. Nothing is taken back." in page
    assert everything() == after


@pytest.mark.parametrize("change", ["student", "guardian"])
def test_what_somebody_changed_since_is_not_overwritten(cast, kept, change):
    if change == "student":
        Student.objects.filter(pk=cast.ama.pk).update(stage=None)
    else:
        Guardian.objects.filter(name="Efua Owiredu").update(email="new@x.org")
    with pytest.raises(Refused, match="Somebody changed this since: (Ama|Efua) Owiredu"):
        undo_import(kept=kept, by=cast.owner)


def test_a_guardian_who_was_given_another_child_since_stays(cast, kept):
    Guardian.objects.get(name="Jo Vance").students.add(cast.bettina)
    with pytest.raises(Refused, match="Bettina Krall"):
        undo_import(kept=kept, by=cast.owner)


def test_results_that_are_taken_back_count_no_more_and_what_stood_before_counts_again(as_owner, cast):
    confirm_results(as_owner, bring_results(as_owner, cast, table("Ama Owiredu,rises,left,1,11,2026-03-10")))
    lines = list(Standing.objects.order_by("pk").values_list("student", "measure", "side", "verdict"))
    preview = bring_results(as_owner, cast, table(
        "Ama Owiredu,rises,left,1,14,2026-03-10", "Bettina Krall,rises,left,1,9,2026-03-17"))
    confirm_results(as_owner, preview)
    take_back(as_owner, KeptImport.objects.first())
    standing = Result.objects.in_force().exclude(reason_missing=Result.WITHDRAWN)
    assert [(row.student, row.value) for row in standing] == [(cast.ama, 11)]
    assert Result.objects.filter(value=14).exists()
    assert list(Standing.objects.order_by("pk").values_list("student", "measure", "side", "verdict")) == lines
    rebuild_standings()
    assert list(Standing.objects.order_by("pk").values_list("student", "measure", "side", "verdict")) == lines


def test_a_result_that_was_corrected_since_is_not_taken_back(as_owner, cast):
    confirm_results(as_owner, bring_results(as_owner, cast, table("Ama Owiredu,rises,left,1,11,2026-03-10")))
    confirm_results(as_owner, bring_results(as_owner, cast, table("Ama Owiredu,rises,left,1,12,2026-03-10")))
    first = KeptImport.objects.last()
    assert "Somebody changed this since: Ama Owiredu" in take_back(as_owner, first).content.decode()
    assert [row.value for row in Result.objects.in_force()] == [12]


def test_the_keys_of_what_was_written_go_with_an_erased_student_and_nothing_can_be_taken_back(cast, kept):
    KeptImport.objects.update(written={})
    with pytest.raises(Refused, match="can no longer be taken back"):
        undo_import(kept=kept, by=cast.owner)
