"""One child from the first class here to a second year on pointe: two classes, a stall, a pain that was cleared,
growth, reviews by people, a new teacher. At each turn it is read on screen and on paper, in both languages.
"""
import datetime as dt
import re
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions import answering, measuring
from progress.actions.growth import record_height
from progress.actions.pain import report_pain
from progress.actions.papers.handover import write_handover_text
from progress.actions.pointe_weeks import log_minutes, put_on_step
from progress.actions.reviews import decide, open_review, say_points
from progress.actions.standings import rebuild_standings
from progress.models import FollowUp, PainAnswer
from screening.models import Protocol, Result
from studio.models import Enrolment, Stage
from tests import factories
from tests.family.conftest import agree, family_of
from tests.reading import words_of
from tests.test_access import BACKEND
from tests.test_no_verdicts import verdicts

FIRST_TERM, SECOND_TERM = (dt.date(2025, 9, 8), dt.date(2025, 12, 6)), (dt.date(2026, 1, 5), dt.date(2026, 4, 4))
THIRD_TERM = (dt.date(2026, 9, 7), dt.date(2026, 12, 5))
FIRST_REVIEW, SECOND_REVIEW, THIRD_REVIEW = dt.date(2025, 12, 2), dt.date(2026, 3, 24), dt.date(2026, 11, 24)


@pytest.fixture
def clock(time_machine):
    def at(on: dt.date) -> None:
        time_machine.move_to(dt.datetime.combine(on, dt.time(18), dt.UTC), tick=False)
    return at


@pytest.fixture
def child(cast, clock):
    """Ama in class B in the autumn, in class A in spring and in the autumn after."""
    clock(FIRST_TERM[0])
    autumn = factories.TermFactory(name="Autumn term 2025", starts_on=FIRST_TERM[0], ends_on=FIRST_TERM[1])
    later = factories.TermFactory(name="Autumn term 2026", starts_on=THIRD_TERM[0], ends_on=THIRD_TERM[1])
    Enrolment.objects.filter(student=cast.ama).delete()
    joined = ((autumn, cast.other_class), (cast.term, cast.class_group), (later, cast.class_group))
    for term, group in joined:
        factories.EnrolmentFactory(student=cast.ama, class_group=group, term=term, joined_on=term.starts_on)
    agree(cast, cast.ama)
    cast.terms = dict(zip(("first", "second", "third"), joined, strict=True))
    return cast


def measured(cast, which: str, values: list[int]) -> None:
    """A count of rises a week on both feet, from the second week of that term on."""
    term, group = cast.terms[which]
    protocol = Protocol.objects.get(measure=cast.rises)
    for week, value in enumerate(values, start=1):
        on = term.starts_on + dt.timedelta(weeks=week)
        held = factories.ScreeningFactory(class_group=group, term=term, battery=cast.battery, held_on=on,
                                          opened_by=cast.owner, closed_by=cast.owner, closed_at=timezone.now())
        for side in "LR":
            Result.objects.create(screening=held, student=cast.ama, measure=cast.rises, protocol=protocol, side=side,
                                  value=Decimal(value), taken_on=on, by=cast.owner)
    rebuild_standings()


def reviewed(cast, on: dt.date, seen: str, decided: str, **more):
    review = open_review(student=cast.ama, why="", on=on, by=cast.owner)
    say_points(review=review, said={"feet": (seen, "")}, whose="teacher", said_by="", said_on=on, by=cast.owner)
    decide(review=review, decided_on=on, asked=["family", "teacher"], decided=decided, by=cast.owner, **more)
    return review


def text(answer) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", words_of(answer)).split())


def letters(cast, staff, review) -> dict[str, str]:
    """The letter afterwards in both languages; neither says a verdict."""
    found = {}
    for language in ("en-gb", "de"):
        cast.ama.guardians.update(language_code=language)
        answer = staff.get(reverse("progress:review-letter", args=[review.pk]))
        assert verdicts(answer) == []
        found[language] = text(answer)
    return found


def test_a_child_from_the_first_class_to_a_second_year_on_pointe(child, as_owner, clock):
    cast = child
    ama, page = cast.ama, reverse("progress:review", args=[child.ama.pk])
    family_of(cast, ama, opened=False)

    def comes(day: dt.date) -> None:
        """The day, and the owner logged in anew: no visit lasts for months."""
        clock(day)
        as_owner.force_login(cast.owner, backend=BACKEND)

    # The first autumn: level for ten weeks, and people decide to wait.
    comes(FIRST_REVIEW)
    measured(cast, "first", [12, 12, 13, 12, 11, 12, 12, 13, 12, 12, 12])
    record_height(student=ama, height_cm=Decimal("144.0"), measured_on=FIRST_REVIEW, by=cast.owner)
    first = reviewed(cast, FIRST_REVIEW, "not_yet", "Not this year. We work on the rise.", look_again_on=SECOND_REVIEW,
                     for_family="We give the feet this year.")
    said = letters(cast, as_owner, first)
    assert all(words in said["en-gb"] for words in ("We give the feet this year.", "On 24 March 2026 we look again"))
    assert all(words in said["de"] for words in ("Was wir entschieden haben", "Am 24. März 2026 sehen wir wieder nach"))
    write_handover_text(student=ama, term=cast.terms["first"][0], text="Ask before you correct.", by=cast.owner)
    handed = text(as_owner.get(reverse("progress:print-handover", args=[ama.pk])))
    assert all(words in handed for words in ("Ask before you correct.", "stalled", "Not this year.", "144.0 cm"))

    # Spring, another class and teacher: a heel hurts, a doctor clears it, and the day to look again comes.
    comes(dt.date(2026, 2, 3))
    measured(cast, "second", [13, 14, 14])
    report_pain(key=uuid.uuid4(), student=ama, class_group=cast.class_group, screening=None, measure=None,
                places=["R-heel"], feels=["limps"], intensity=6, stopped="exercise", note="",
                reported_on=dt.date(2026, 2, 3), by=cast.owner)
    hurts = FollowUp.objects.get(kind=FollowUp.STOP_SIGN)
    answering.answer_pain(follow_up=hurts, closed_on=dt.date(2026, 2, 5), by=cast.owner, answer=answering.Answer(
        PainAnswer.CLINICIAN, "No swelling.", 8, said_by="Dr Vane", said_on=dt.date(2026, 2, 5),
        allowed="full class", allows="all"))
    comes(SECOND_REVIEW)
    record_height(student=ama, height_cm=Decimal("146.5"), measured_on=SECOND_REVIEW, by=cast.owner)
    read = text(as_owner.get(page))
    assert all(words in read for words in (
        "Limps, right heel, 6 of 10. Seen and cleared by a clinician", "Grew 2.5 cm from 2 December to 24 March",
        "not yet", "Not this year. We work on the rise.", "In classes here since 8 September 2025",
    )), read
    [waiting] = FollowUp.objects.filter(kind=FollowUp.LOOK_AGAIN, closed_at__isnull=True)
    assert waiting.due_on == SECOND_REVIEW
    second = reviewed(cast, SECOND_REVIEW, "seen", "Pointe work from September.", from_on=THIRD_TERM[0],
                      conditions="Fifteen minutes at the end of class.", look_again_on=THIRD_REVIEW)
    assert "Pointe work from September." in letters(cast, as_owner, second)["de"]
    assert FollowUp.objects.get(kind=FollowUp.LOOK_AGAIN, closed_at__isnull=True).due_on == THIRD_REVIEW

    # The first year on pointe, and the look back that ends the waiting.
    ama.stage = Stage.objects.get(key="first-year")
    measuring.save_particulars(student=ama, by=cast.owner)
    comes(THIRD_TERM[0])
    put_on_step(student=ama, step=1, note="", on=THIRD_TERM[0], by=cast.owner)
    for week in range(3):
        on = THIRD_TERM[0] + dt.timedelta(weeks=week)
        comes(on)
        log_minutes(student=ama, class_group=cast.class_group, held_on=on, minutes=15, said="fine", by=cast.owner)
    weeks = text(as_owner.get(reverse("progress:student-pointe", args=[ama.pk])))
    assert "At the barre, two hands, two feet, 15 minutes" in weeks and weeks.count("heel and big toe: fine") == 3
    comes(THIRD_REVIEW)
    measured(cast, "third", [18, 18, 19, 20, 20, 21, 22, 22, 23, 23, 24])
    reviewed(cast, THIRD_REVIEW, "seen", "A second year on pointe.")
    ama.stage = Stage.objects.get(key="on-pointe")
    measuring.save_particulars(student=ama, by=cast.owner)
    assert not FollowUp.objects.filter(kind=FollowUp.LOOK_AGAIN, closed_at__isnull=True).exists()
    read = text(as_owner.get(page))
    decided = ("A second year on pointe.", "Pointe work from September.", "Not this year.")
    order = [read.index(words) for words in decided]
    assert order == sorted(order) and verdicts(as_owner.get(page)) == []
    years = text(as_owner.get(reverse("progress:years", args=[ama.pk])))
    assert all(words in years for words in (
        "left 12, last 12; right 12, last 12", "left 13, last 14; right 13, last 14", "left 18, last 24",
        "Pre-pointe B", "Pre-pointe A"))
    drawn = as_owner.get(reverse("progress:years", args=[ama.pk])).content.decode()
    assert "Pain reported" in drawn and "146.5" in drawn
    told = text(as_owner.get(reverse("progress:story", args=[ama.pk]) + "?kind=reviews"))
    assert all(words in told for words in ("Decided: Not this year.", "Decided: Pointe work from September."))
