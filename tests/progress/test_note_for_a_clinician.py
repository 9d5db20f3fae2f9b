"""The note for a clinician says what a physician asks, on one page, in letters that can be read without a glass.

What it must hold is a list of this project's own (asked by a reader with a clinician's eye); the size of letters is
read from the printed page with poppler's pdftotext, which knows nothing of how it was made.
"""
import datetime as dt
import re
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from progress.actions import answering, pain
from progress.actions.growth import record_height
from progress.actions.standings import rebuild_standings
from progress.models import FollowUp, HomeTold, PainAnswer
from progress.papers import paper
from progress.queries.papers.referral import referral_note
from screening.models import Protocol
from studio.family.queries import agreed_scopes
from studio.models import Stage, StageChange
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.progress.read_back import read
from tests.progress.test_forms_on_paper import much_to_tell, words  # noqa: F401

# Body text of the note: 12 px of CSS are 9 points. No letter may be smaller than 8.
BODY, SMALLEST = 9, 8


def hurt(cast, on: dt.date, **fields):
    report = {
        "key": uuid.uuid4(), "student": cast.ama, "class_group": cast.class_group, "screening": None,
        "measure": cast.rises, "places": ["L-achilles"], "feels": ["sharp"], "intensity": 6, "stopped": "exercise",
        "since": "days", "note": "", "reported_on": on, "by": cast.teacher,
    }
    return pain.report_pain(**(report | fields))


@pytest.fixture
def told(cast, time_machine):
    """Ama on pointe since January: pain in January that a clinician cleared, and now again, in a run, at rise 5."""
    cast.studio.phone, cast.studio.email = "01632 960117", "desk@larkmere.example"
    cast.studio.save()
    agree(cast, cast.ama, at=dt.datetime(2025, 12, 1, tzinfo=dt.UTC))
    StageChange.objects.create(
        student=cast.ama, stage=Stage.objects.get(key="first-year"), on=dt.date(2026, 1, 12), by=cast.owner)
    cast.ama.stage = Stage.objects.get(key="first-year")
    cast.ama.save()
    for on, height in ((dt.date(2025, 9, 8), "144.0"), (dt.date(2026, 3, 10), "148.2")):
        record_height(student=cast.ama, height_cm=Decimal(height), measured_on=on, by=cast.teacher)
    for on, left in ((dt.date(2026, 3, 10), 14), (TODAY, 5)):
        held = factories.ScreeningFactory(class_group=cast.class_group, term=cast.term, held_on=on)
        factories.ResultFactory(
            screening=held, student=cast.ama, measure=cast.rises, side="L", value=left, taken_on=on,
            protocol=Protocol.objects.get(measure=cast.rises), by=cast.teacher, is_confirmed=True,
        )
    rebuild_standings()
    time_machine.move_to(dt.datetime(2026, 2, 3, 18, tzinfo=dt.UTC), tick=False)
    hurt(cast, dt.date(2026, 2, 3), intensity=5)
    answering.answer_pain(
        follow_up=FollowUp.objects.get(), closed_on=dt.date(2026, 2, 3), by=cast.teacher,
        answer=answering.Answer(
            PainAnswer.CLINICIAN, "Papers in the office.", 6, said_by="Dr Vane", said_on=dt.date(2026, 2, 3),
            allowed="full class", allows="all",
        ),
    )
    time_machine.move_to(dt.datetime(2026, 3, 24, 18, tzinfo=dt.UTC), tick=False)
    report = hurt(
        cast, TODAY, feels=["dull", "swollen"], signs=["night"], note="since the hill walk", at_count=5, intensity=7)
    HomeTold.objects.create(report=report, who="Abena Owiredu", way=HomeTold.PHONE, by=cast.teacher)
    return cast


def test_it_has_what_a_physician_asks(as_teacher, told, tmp_path):
    printed = words(as_teacher.get(f"/students/{told.ama.pk}/referral-note/print/").content, tmp_path)
    for said in (
        "born 1 May 2014, 11 years", "On pointe since 12 January 2026.", "Grew 4.2 cm",
        "01632 960117", "desk@larkmere.example",
        "Davit Meskhi", "in rises, stopped at count 5", "for 1 to 3 days; could go on: not this exercise",
        "“since the hill walk”",
        "limps", "weight", "swollen,", "at night", "a snap", "gives", "fever,",
        "–: not tapped, or not asked. Nobody looked for it.",
        "it has come back", "Earlier, and how it ended: 3 February 2026: Sharp, pin-point, left Achilles, 5 of 10. "
        "Seen and cleared by a clinician, Dr Vane, on 3 February; allowed: full class.",
        "before, 10 March: left 14; at the time, 24 March: left 5.",
        "Home, by telephone: Abena Owiredu",
        "What makes it better", "What makes it worse", "Earlier injury", "Shoes", "Dancing and sport elsewhere",
        "Allowed in class, at most:", "Rises on two feet", "until", "to be seen again on", "seen by, on", "signature",
    ):
        assert said in printed, said
    assert "weeks 5 to" not in printed


def test_what_was_tapped_says_yes_and_the_rest_says_that_nobody_asked(told):
    note = referral_note(
        told.ama, agreed=agreed_scopes(told.ama, dt.datetime.now(dt.UTC)), today=TODAY, now=timezone.now()
    )
    assert [report.tapped for report in note.reports] == [(False, False, True, True, False, False, False)]
    assert note.reports[0].words == "Dull ache, left Achilles, 7 of 10"


def test_words_that_name_a_sign_stand_in_its_column(cast):
    agree(cast, cast.ama)
    hurt(cast, TODAY, feels=["other"], note="wakes her at night")
    note = referral_note(
        cast.ama, agreed=agreed_scopes(cast.ama, dt.datetime.now(dt.UTC)), today=TODAY, now=timezone.now()
    )
    assert note.reports[0].tapped[3]


def test_by_hand_from_the_page_of_a_student_who_never_hurt_it_is_there_to_fill_in(as_teacher, cast, tmp_path):
    agree(cast, cast.bettina)
    address = f"/students/{cast.bettina.pk}/referral-note/"
    assert address in as_teacher.get(f"/students/{cast.bettina.pk}/").content.decode()
    printed = words(as_teacher.get(f"{address}print/").content, tmp_path)
    assert "Nothing reported in the last 13 weeks." in printed and "What makes it better" in printed


def sizes(file: bytes, tmp_path) -> dict[str, float]:
    """The height of each word's line, in points of the page."""
    boxes = read("pdftotext -bbox", file, tmp_path)
    found = re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)">([^<]*)</word>', boxes)
    return {word: float(low) - float(high) for high, low, word in found if len(word) > 1}


@pytest.mark.parametrize("size", paper.SIZES)
def test_no_letter_is_smaller_than_eight_points(as_teacher, much_to_tell, tmp_path, size):  # noqa: F811
    file = as_teacher.get(f"/students/{much_to_tell.ama.pk}/referral-note/print/?paper={size}").content
    assert "Pages:           1\n" in read("pdfinfo", file, tmp_path)
    found = sizes(file, tmp_path)
    assert {"toes", "Achilles", "heel", "ankle"} <= set(found)
    a_point = found["Monday"] / BODY
    assert {word: round(high / a_point, 1) for word, high in found.items() if high < SMALLEST * a_point} == {}


def test_the_drawing_of_the_feet_is_160_mm_wide(as_teacher, much_to_tell, tmp_path):  # noqa: F811
    file = as_teacher.get(f"/students/{much_to_tell.ama.pk}/referral-note/print/").content
    boxes = read("pdftotext -bbox", file, tmp_path)
    left = min(float(x) for x in re.findall(r'xMin="([\d.]+)"[^>]*>Left</word>', boxes))
    right = max(float(x) for x in re.findall(r'xMax="([\d.]+)"[^>]*>ankle</word>', boxes))
    # From the word under the first foot to the name beside the last: 832 of the drawing's 968 px.
    assert (right - left) / 72 * 25.4 >= 832 / 968 * 160
