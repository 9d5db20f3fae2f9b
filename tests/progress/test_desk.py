"""The owner's desk names what is missing before the term ends, and nothing that is complete."""
import datetime as dt

from django.urls import reverse

from progress.actions.follow_ups import open_follow_up
from progress.models import FollowUp
from progress.queries.desk import desk_rows, doors
from screening.models import Protocol
from studio.family.actions import make_key
from studio.models import Consent
from tests import factories
from tests.conftest import TODAY

NOW = dt.datetime(2026, 3, 24, 12, tzinfo=dt.UTC)


def rows_of(cast, today=TODAY):
    return {str(row.name): row for row in desk_rows(cast.term, today=today, now=NOW)}


def measure(cast, student):
    factories.ResultFactory(
        screening=cast.screening, student=student, measure=cast.rises, side="L", value=12, by=cast.teacher,
        protocol=Protocol.objects.get(measure=cast.rises), taken_on=TODAY,
    )


def test_who_was_not_measured_this_term_is_named_until_everybody_was(cast):
    before = rows_of(cast)["Measured this term"]
    assert before.part < 1 and cast.ama.name in before.words
    measure(cast, cast.ama)
    after = rows_of(cast).get("Measured this term")
    assert after is None or cast.ama.name not in after.words and after.part > before.part


def test_no_is_an_answer_about_consent_too(cast):
    assert cast.ama.name in rows_of(cast)["Consent on file"].words
    for scope in (Consent.MEASUREMENTS, Consent.PAIN):
        Consent.objects.create(student=cast.ama, scope=scope, is_given=False, at=NOW, recorded_by=cast.owner)
    found = rows_of(cast).get("Consent on file")
    assert found is None or cast.ama.name not in found.words


def test_reports_are_asked_about_in_the_last_three_weeks_only(cast):
    last = cast.term.ends_on
    assert "Term reports" not in rows_of(cast, today=last - dt.timedelta(weeks=3, days=1))
    assert "Term reports" in rows_of(cast, today=last - dt.timedelta(weeks=3))


def test_without_a_term_nothing_is_missing(cast):
    assert desk_rows(None, today=TODAY, now=NOW) == ()


def test_the_office_has_its_doors_and_says_what_is_missing(as_owner, cast):
    page = as_owner.get("/office/").content.decode()
    assert "missing before the term ends" in page and "Everything else is in order." in page
    assert all(words in page for words in ("Terms and classes", "A class list from a file", "Who saw what"))


def test_the_ruler_of_the_office_names_its_term_and_the_week(as_owner, cast):
    page = " ".join(as_owner.get(reverse("studio:office")).content.decode().split())
    assert f"</svg> {cast.term.name}, week" in page


def test_a_field_speaks_in_the_houses_words(as_owner, cast):
    page = as_owner.post("/office/terms/new/", {"name": ""}).content.decode()
    assert "Please fill this in." in page and "This field is required" not in page


def test_the_doors_say_how_much_is_behind_them(cast):
    page = {"terms": 1, "classes": 3, "people": 3, "term": cast.term, "today": TODAY, "now": NOW}
    behind = doors(**page)
    assert behind.classes == "1 term, 3 classes, times and holidays."
    assert behind.students == "4 dancing, 0 paused, 0 left; 4 consents, 0 family cards."
    assert behind.people == "3 people, 0 tablets."
    assert behind.measures.endswith(" exercises, targets by stage.")
    Consent.objects.create(
        student=cast.ama, scope=Consent.MEASUREMENTS, is_given=False, at=NOW, recorded_by=cast.owner
    )
    make_key(guardian=_guardian_of(cast.ama), term=cast.term, by=cast.owner)
    assert doors(**page).students == "4 dancing, 0 paused, 0 left; 3 consents, 1 family card."


def _guardian_of(student):
    guardian = factories.GuardianFactory()
    guardian.students.add(student)
    return guardian


def test_open_follow_ups_of_a_login_that_was_switched_off_are_said(as_owner, cast):
    for child, due in ((cast.ama, TODAY), (cast.bettina, TODAY + dt.timedelta(days=3))):
        opened, _made = open_follow_up(
            student=child, kind=FollowUp.NOT_MEASURED, class_group=cast.class_group, opened_on=TODAY)
        opened.due_on = due
        opened.save()
    assert "Follow-ups to hand over" not in rows_of(cast)
    cast.teacher.is_active = False
    cast.teacher.save()
    row = rows_of(cast)["Follow-ups to hand over"]
    assert (row.count, row.words) == ("2", "Davit Meskhi may not log in, 1 of them is due")
    assert "Davit Meskhi may not log in" in as_owner.get(reverse("studio:office")).content.decode()
