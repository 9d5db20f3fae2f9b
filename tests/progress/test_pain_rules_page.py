"""The owner makes the answers to pain stricter, with a reason; nobody makes them milder."""
import pytest
from django.urls import reverse

from progress.actions.pain_rules import keep_pain_rule
from progress.models import PainReport, StricterPainRule
from progress.rules import pain
from studio.actions import Refused
from tests.progress.test_pain_reports import report

WAY = "/office/pain-rules/"


def test_a_stricter_rule_is_appended_and_holds_from_the_next_report_on(as_owner, cast):
    before = report(cast, feels=["dull"], intensity=4)
    for number, places in ((5, []), (4, ["achilles", "shin"])):
        as_owner.post(WAY, {"doctor_from": number, "doctor_places": places, "reason": "Our physiotherapist asks."})
    assert [row.doctor_from for row in StricterPainRule.objects.all()] == [5, 4]
    assert report(cast, feels=["dull"], intensity=4).asks == pain.DOCTOR_TODAY
    assert report(cast, feels=["dull"], intensity=3).asks == pain.WATCH
    assert report(cast, feels=["dull"], intensity=1, stopped="exercise").asks == pain.DOCTOR_TODAY
    assert PainReport.objects.get(pk=before.pk).asks == pain.WATCH


@pytest.mark.parametrize("said", [
    {"doctor_from": 9}, {"doctor_from": 0}, {"doctor_from": ""}, {"doctor_from": 6, "reason": " "},
    {"doctor_from": 6, "doctor_places": ["elbow"]},
])
def test_nothing_milder_and_nothing_without_a_reason_is_kept(as_owner, cast, said):
    assert as_owner.post(WAY, {"reason": "So."} | said).status_code == 422
    assert not StricterPainRule.objects.exists()


@pytest.mark.parametrize(("number", "places", "why"), [(9, [], "So."), (0, [], "So."), (6, ["elbow"], "So."),
                                                       (6, [], " ")])
def test_the_deed_itself_refuses_what_the_form_would(cast, number, places, why):
    with pytest.raises(Refused):
        keep_pain_rule(doctor_from=number, doctor_places=places, reason=why, by=cast.owner)


def test_the_page_tells_every_row_with_its_source(as_owner, cast):
    page = " ".join(as_owner.get(reverse("progress:pain-rules")).content.decode().split())
    for row in pain.rows():
        assert row.source.replace("'", "&#x27;") in page
