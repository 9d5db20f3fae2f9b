"""The demo has its stories to find, on any day it is loaded."""
import datetime as dt

import pytest
from django.core.management import call_command

from progress.demo.load import load_demo
from progress.models import ClassStanding, FollowUp, PainAnswer, PainReport, Standing
from progress.queries import resting_students


@pytest.mark.django_db
def test_every_story_of_the_script_can_be_found():
    call_command("first_start", "--empty", verbosity=0)
    load_demo(today=dt.date(2026, 3, 24))
    rows = Standing.objects.select_related("student", "measure")
    verdicts = {(row.student.name.split()[0], row.measure.key, row.side): row.verdict for row in rows}
    assert verdicts["Dunya", "rises", "L"] == "stalled"
    assert verdicts["Dunya", "rises", "R"] == "gaining"
    assert verdicts["Inés", "rises", "L"] == "slipping"
    assert {verdicts["Greta", "passe-balance", side] for side in "LR"} <= {"stalled", "slipping"}
    assert verdicts["Freya", "rises", "L"] == "at_target"
    assert verdicts["Noor", "rises", "L"] == "too_early"
    assert ClassStanding.objects.get(class_group__name="Pre-pointe A").stalls[0]["measure"] == "passe-balance"
    assert FollowUp.objects.filter(kind=FollowUp.SIDES_APART, student__name="Jaya Pillar").exists()
    assert rows.get(student__name="Leilani Kahale", measure__key="rises", side="R").line["held_back"]
    hana = PainReport.objects.filter(student__name="Hana Okabe").first()
    assert resting_students([hana.student_id])
    assert PainAnswer.objects.get(kind=PainAnswer.CLINICIAN).report.student.name == "Oluchi Nwabara"
