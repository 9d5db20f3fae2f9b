"""What one teacher hands to the next: from the record, with the old teacher's words, as far as the family agrees."""
import datetime as dt
import re
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions import measuring
from progress.actions.classwork.programme import plan_exercise
from progress.actions.growth import record_height
from progress.actions.pain import report_pain
from progress.actions.papers.handover import write_handover_text
from progress.actions.reviews import decide, open_review
from progress.models import Exercise, HandoverText
from progress.models.handover import LONGEST
from progress.rules.dose import Dose
from screening.actions import Entry
from studio.models import Consent
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.reading import words_of


@pytest.fixture
def ama(cast):
    """Ama with a result, a height, an exercise of her own, pain, a decision and her teacher's words."""
    student, by = cast.ama, cast.teacher
    agree(cast, student)
    measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=student, measure=cast.rises, side="L",
        entry=Entry(value=Decimal(14)), by=by,
    )
    record_height(student=student, height_cm=Decimal("148.5"), measured_on=TODAY, by=by)
    plan_exercise(
        class_group=cast.class_group, term=cast.term, student=student, exercise=Exercise.objects.get(key="short-foot"),
        dose=Dose(2, 8, 5), note="sitting", added_on=TODAY, by=by,
    )
    report_pain(
        key=uuid.uuid4(), student=student, class_group=cast.class_group, screening=None, measure=None,
        places=["R-heel"], feels=["dull"], intensity=3, stopped="nothing", note="", reported_on=TODAY, by=by,
    )
    decide(
        review=open_review(student=student, why="", on=TODAY, by=by), decided_on=TODAY, asked=["family"],
        decided="Not this year.", look_again_on=TODAY + dt.timedelta(days=90), by=by,
    )
    write_handover_text(student=student, term=cast.term, text="Says little when it hurts: ask.", by=by)
    return student


def printed(client, route: str, key: int, size: str = "A4") -> str:
    answer = client.get(reverse(f"progress:{route}", args=[key]) + f"?paper={size}")
    return " ".join(words_of(answer).split())


def test_the_next_teacher_reads_what_is_practised_what_hurt_and_what_was_agreed(cast, ama, as_teacher):
    text = printed(as_teacher, "print-handover", ama.pk)
    assert all(words in text for words in (
        "11 years old.", "Height 148.5 cm on 24 March 2026.", "right heel", "Short foot (doming): 2 × 8 × 5 s",
        "this student’s own", "Decided on 24 March 2026 (the family): Not this year.", "Look again on 22 June 2026.",
        "In the words of Davit Meskhi, 24 March 2026", "Says little when it hurts: ask.",
    )), text


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_it_is_one_page_with_the_longest_words(cast, ama, as_teacher, size):
    text = ("Left foot first, then the right one. " * 30)[:LONGEST]
    write_handover_text(student=ama, term=cast.term, text=text.strip(), by=cast.teacher)
    assert re.search("1 ?/ ?1$", printed(as_teacher, "print-handover", ama.pk, size))


def test_a_class_has_a_list_and_a_page_for_each_student(cast, ama, as_teacher):
    agree(cast, cast.bettina)
    text = printed(as_teacher, "print-class-handover", cast.class_group.pk)
    assert re.search("3 ?/ ?3$", text) and text.index("Pre-pointe A") < text.index("Ama Owiredu")
    assert "Bettina Krall" in text and "Greta" not in text


def test_pain_is_left_out_where_the_family_does_not_agree_to_pain_notes(cast, ama, as_teacher):
    agree(cast, ama, Consent.PAIN, is_given=False)
    for route, key in (("print-handover", ama.pk), ("print-class-handover", cast.class_group.pk)):
        text = printed(as_teacher, route, key)
        assert "right heel" not in text and "on this paper" in text


def test_without_consent_to_measurements_a_name_is_left_on_the_list_and_no_more(cast, ama, as_teacher):
    agree(cast, ama, Consent.MEASUREMENTS, is_given=False)
    for route in ("write-handover", "print-handover"):
        assert as_teacher.get(reverse(f"progress:{route}", args=[ama.pk])).status_code == 404
    text = printed(as_teacher, "print-class-handover", cast.class_group.pk)
    assert "Ama Owiredu" in text
    assert not re.search("Not this year|148.5|Says little|Short foot|years old", text.split("Bettina Krall")[0])


def test_every_version_of_the_words_stays_and_the_same_once_more_writes_nothing(cast, ama, as_teacher):
    path = reverse("progress:write-handover", args=[ama.pk])
    for text in ("Ask twice.", "Ask twice.", ""):
        assert as_teacher.post(path, {"text": text}).status_code == 302
    kept = list(HandoverText.objects.values_list("text", flat=True))
    assert kept == ["", "Ask twice.", "Says little when it hurts: ask."]
    assert "In the words of" not in printed(as_teacher, "print-handover", ama.pk)
    assert "taken out" in as_teacher.get(path).content.decode()


def test_the_words_of_another_term_are_not_printed(cast, ama, as_teacher):
    HandoverText.objects.all().update(term=type(cast.term).objects.create(
        name="Autumn", starts_on=dt.date(2025, 9, 8), ends_on=dt.date(2025, 12, 6)))
    assert "Says little" not in printed(as_teacher, "print-handover", ama.pk)
    assert timezone.localdate() == TODAY
