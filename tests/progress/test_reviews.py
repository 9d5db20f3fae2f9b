"""The review before pointe work: people's views stand side by side, people decide, and the program says nothing of it.

The points are those of Weiss, Rist and Grossman (2009), J Dance Med Sci 13(3):90-92, abstract and opening; that no
study shows that such tests predict injury: Hough-Coles and Wyon (2022), J Dance Med Sci 26(4):213-225 (link to injury
contradictory).
"""
import datetime as dt
import re
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions import measuring
from progress.actions.growth import record_height
from progress.actions.pain import report_pain
from progress.actions.reviews import decide, open_review, say_points
from progress.models import Decision, FollowUp, PointSeen, Review
from progress.models.reviews import LONGEST_FOR_FAMILY
from progress.queries.class_reviews import class_reviews
from progress.queries.follow_ups import follow_up_rows
from progress.queries.on_record import Asked, on_record
from progress.queries.reviews import class_now, review_page
from progress.rules import pointe_points as points
from screening.actions import Entry
from studio.family.queries import agreed_scopes
from studio.models import Consent
from tests.conftest import TODAY
from tests.family.conftest import agree, family_of
from tests.reading import words_of

# Words of a verdict, a sum or a rank, in the languages of the house.
VERDICT = re.compile(
    r"\bready\b|readiness|\bfit for\b|\bscore\b|points met|\btotal\b|\bsum\b|\brank|percent|per cent|\d ?%|"
    r"\bpass(es|ed)\b|\bfail(s|ed)?\b|recommend|suggests? that|\bbereit\b|\breif|geeignet|bestanden\b|Punktzahl|Rang\b",
    re.IGNORECASE,
)


@pytest.fixture
def ama(cast):
    agree(cast, cast.ama)
    return cast.ama


@pytest.fixture
def review(cast, ama):
    return open_review(student=ama, why="", on=TODAY, by=cast.teacher)


def say(review, by, whose=PointSeen.TEACHER, said_by="", **said):
    return say_points(
        review=review, said={key: (answer, "") for key, answer in said.items()}, whose=whose, said_by=said_by,
        said_on=TODAY, by=by,
    )


def decided(review, by, **changed) -> Decision:
    told = {"decided_on": TODAY, "asked": ["family"], "names": "", "decided": "Not this year.", "from_on": None,
            "conditions": "", "look_again_on": None, "for_family": ""}
    return decide(review=review, by=by, **told | changed)


def measured(cast, student, measure, side: str, value: int) -> None:
    measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=student, measure=measure, side=side,
        entry=Entry(value=Decimal(value)), by=cast.teacher,
    )


def facts(cast, student, point: str) -> list[str]:
    agreed = agreed_scopes(student, timezone.now())
    asked = Asked(student, cast.term, class_now(student), agreed, TODAY, timezone.now())
    return [f"{fact.words} | {fact.soft}" for fact in on_record(asked)[point]]


def test_the_five_points_of_the_guideline_are_there_and_ours_says_that_it_is_ours():
    of_2009 = [point.key for point in points.POINTS if "2009" in point.source]
    assert of_2009 == ["growth", "trunk", "alignment", "feet", "training"]
    assert "not a point of the guideline" in points.BY_KEY["pain"].source
    training = points.BY_KEY["training"].adds
    assert all(words in training for words in ("fourth year", "eight or later", "twice a week", "once a week"))


def test_a_result_stands_with_its_day_its_target_and_its_protocol(cast, ama):
    measured(cast, ama, cast.rises, "L", 14)
    told = facts(cast, ama, "feet")
    assert told[0].startswith("Rises, one foot: left 14. Target of the stage: 20 (common practice, no source")
    assert told[0].endswith("| measured today; heel to the string, 60 beats")


def test_what_was_not_measured_this_term_says_so_and_leads_to_the_measuring(cast, ama, as_teacher):
    measured(cast, ama, cast.rises, "R", 11)
    ama.results.update(taken_on=cast.term.starts_on - dt.timedelta(days=20))
    told = facts(cast, ama, "feet")
    assert told[0].startswith("Rises, one foot: not measured this term. Last: right 11. | measured 98 days ago")
    assert any(each.startswith("Never measured: ") for each in told)
    page = as_teacher.get(reverse("progress:review", args=[ama.pk])).content.decode()
    assert reverse("progress:open-screening", args=[cast.class_group.pk]) in page


def test_growth_has_its_error_and_without_heights_says_what_to_do(cast, ama):
    assert "No height is on record. | " in facts(cast, ama, "growth")
    for height, days in ((Decimal(140), 182), (Decimal(144), 0)):
        record_height(student=ama, height_cm=height, measured_on=TODAY - dt.timedelta(days=days), by=cast.teacher)
    assert any("8.0 cm a year, give or take 1.7" in each for each in facts(cast, ama, "growth"))


def test_a_fault_is_seen_again_from_the_second_day_on(cast, ama):
    measured(cast, ama, cast.rises, "L", 14)
    measured(cast, ama, cast.rises, "R", 15)
    ama.results.update(fault="bent knee")
    assert not any("bent knee" in each for each in facts(cast, ama, "alignment"))
    ama.results.filter(side="R").update(taken_on=TODAY - dt.timedelta(days=7))
    assert "Seen again: bent knee, on 2 days. | last on 24 March" in facts(cast, ama, "alignment")


def test_pain_is_on_record_only_where_the_family_agreed_to_pain_notes(cast, ama):
    report_pain(
        key=uuid.uuid4(), student=ama, class_group=cast.class_group, screening=None, measure=None,
        places=["R-heel"], feels=["dull"], intensity=3, stopped="nothing", note="", reported_on=TODAY, by=cast.teacher,
    )
    assert any("right heel" in each for each in facts(cast, ama, "pain"))
    agree(cast, ama, Consent.PAIN, is_given=False)
    page = review_page(ama, today=TODAY, now=timezone.now())
    assert "pain" not in {each.point.key for each in page.points}


def test_views_stand_side_by_side_and_a_persons_last_word_is_in_force(cast, ama, review):
    say(review, cast.teacher, feet="not_yet")
    say(review, cast.owner, feet="seen")
    say(review, cast.owner, PointSeen.HEALTH, "Dr Vane", feet="not_looked")
    say(review, cast.teacher, feet="seen")
    page = review_page(ama, today=TODAY, now=timezone.now())
    [feet] = [each for each in page.points if each.point.key == "feet"]
    assert [(row.who, row.answer) for row in feet.seen] == [
        ("Davit Meskhi", "seen"), ("Ottoline Brack", "seen"), ("Dr Vane", "not_looked"),
    ]
    assert PointSeen.objects.filter(review=review).count() == 4


def test_the_same_words_once_more_write_nothing(cast, review):
    assert len(say(review, cast.teacher, feet="seen", trunk="not_yet")) == 2
    assert say(review, cast.teacher, feet="seen", trunk="not_yet") == []
    assert decided(review, cast.teacher) == decided(review, cast.teacher)
    assert open_review(student=review.student, why="", on=TODAY, by=cast.owner) != review


def test_what_a_health_professional_said_is_told_with_consent_to_pain_notes_only(cast, ama, review, as_teacher):
    say(review, cast.owner, PointSeen.HEALTH, "Dr Vane", feet="seen")
    path = reverse("progress:review", args=[ama.pk])
    assert "Dr Vane" in as_teacher.get(path).content.decode()
    agree(cast, ama, Consent.PAIN, is_given=False)
    assert "Dr Vane" not in as_teacher.get(path).content.decode()
    assert "Dr Vane" not in as_teacher.get(reverse("progress:story", args=[ama.pk])).content.decode()
    assert as_teacher.get(reverse("progress:say-points", args=[review.pk]) + "?whose=health").status_code == 404


def test_the_day_to_look_again_waits_on_the_list_and_moves_with_the_next_decision(cast, ama, review):
    in_june, in_may = dt.date(2026, 6, 16), dt.date(2026, 5, 5)
    decided(review, cast.teacher, look_again_on=in_june)
    waiting = FollowUp.objects.get(kind=FollowUp.LOOK_AGAIN)
    assert (waiting.due_on, waiting.acts, waiting.class_group) == (in_june, cast.teacher, cast.class_group)
    [row] = follow_up_rows(FollowUp.objects.filter(pk=waiting.pk), term=cast.term, today=TODAY, now=timezone.now())
    assert row.why == "Look again together at pointe work, as was decided." and not row.is_due
    decided(review, cast.teacher, look_again_on=in_may, decided="We look earlier.")
    assert FollowUp.objects.get(kind=FollowUp.LOOK_AGAIN).due_on == in_may
    decided(review, cast.teacher, decided="From September.")
    assert not FollowUp.objects.get(kind=FollowUp.LOOK_AGAIN).is_open
    assert review.decisions.count() == 3


def test_a_later_review_stands_beside_the_earlier(cast, ama, review, as_teacher):
    decided(review, cast.teacher, decided="Strength first.")
    later = open_review(student=ama, why="", on=TODAY + dt.timedelta(days=90), by=cast.owner)
    decided(later, cast.owner, decided="From September.", decided_on=TODAY + dt.timedelta(days=90))
    page = as_teacher.get(reverse("progress:review", args=[ama.pk])).content.decode()
    assert page.index("From September.") < page.index("Strength first.")
    assert Review.objects.count() == 2


def test_nobody_without_consent_to_measurements_is_reviewed(cast, ama, review, as_teacher):
    decided(review, cast.teacher, look_again_on=TODAY + dt.timedelta(days=9))
    agree(cast, ama, Consent.MEASUREMENTS, is_given=False)
    for route, key in (("review", ama.pk), ("say-points", review.pk), ("decide-review", review.pk),
                       ("review-sheet", review.pk), ("review-letter", review.pk)):
        assert as_teacher.get(reverse(f"progress:{route}", args=[key])).status_code == 404
    told = as_teacher.get(reverse("progress:story", args=[ama.pk])).content.decode()
    assert "Not this year." not in told
    assert "To look at again together" not in as_teacher.get(reverse("progress:follow-ups")).content.decode()


def test_a_view_is_typed_and_a_point_without_an_answer_says_nothing(cast, ama, review, as_teacher):
    path = reverse("progress:say-points", args=[review.pk])
    answer = as_teacher.post(path, {"said_on": "2026-03-24", "words_feet": "Tires."})
    assert answer.status_code == 422 and "Say which of the three it is." in answer.content.decode()
    as_teacher.post(path, {"said_on": "2026-03-24", "answer_feet": "not_yet", "words_feet": "Tires."})
    [row] = review.seen.all()
    assert (row.point, row.answer, row.words, row.who) == ("feet", "not_yet", "Tires.", "Davit Meskhi")


def test_a_decision_is_typed_and_a_day_to_look_again_lies_after_it(cast, ama, review, as_teacher):
    path = reverse("progress:decide-review", args=[review.pk])
    typed = {"asked": ["family", "teacher"], "decided_on": "2026-03-24", "decided": "Not this year."}
    assert as_teacher.post(path, {**typed, "look_again_on": "2026-03-24"}).status_code == 422
    assert as_teacher.post(path, {**typed, "look_again_on": "2026-06-16"}).status_code == 302
    page = as_teacher.get(reverse("progress:review", args=[ama.pk])).content.decode()
    assert "the family and teachers" in page and "16 June 2026" in page


@pytest.fixture
def everything_said(cast, ama, review):
    """Ama with results, pain, a height, three views and a decision with the longest words for a family."""
    for side in "LR":
        measured(cast, ama, cast.rises, side, 20)
    say(review, cast.teacher, feet="seen", trunk="seen", alignment="not_yet", training="seen", growth="seen")
    say(review, cast.owner, PointSeen.HEALTH, "Dr Vane", feet="seen")
    words = ("This year we work on strength. " * 40)[:LONGEST_FOR_FAMILY]
    return decided(review, cast.teacher, look_again_on=TODAY + dt.timedelta(days=90), for_family=words.strip())


def test_no_page_of_a_review_says_a_verdict_a_sum_or_a_rank(cast, ama, review, everything_said, as_teacher):
    paths = [reverse("progress:review", args=[ama.pk]), *(
        reverse(f"progress:{route}", args=[review.pk])
        for route in ("say-points", "decide-review", "review-sheet", "review-letter"))]
    for path in paths:
        page = words_of(as_teacher.get(path))
        text = re.sub(r"<[^>]*>", " ", re.sub(r"<head>.*?</head>", "", page, flags=re.DOTALL))
        assert VERDICT.findall(text) == [], path
    page = as_teacher.get(paths[0]).content.decode()
    assert "added up, weighed or compared" in page and "No study shows that these\npoints predict" not in page
    assert "No study shows that these points predict injury" in " ".join(page.split())


@pytest.mark.parametrize("language", ["en-gb", "de"])
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_both_papers_are_one_page_in_the_familys_language(
    cast, ama, review, everything_said, as_teacher, language, size
):
    family_of(cast, ama, language_code=language, opened=False)
    heads = {"en-gb": ("What we look at together", "When we look again", "24 March 2026"),
             "de": ("Was wir gemeinsam ansehen", "Wann wir wieder nachsehen", "24. März 2026")}[language]
    for route, head in (("review-sheet", heads[0]), ("review-letter", heads[1])):
        answer = as_teacher.get(reverse(f"progress:{route}", args=[review.pk]) + f"?paper={size}")
        text = " ".join(words_of(answer).split())
        assert head in text and heads[2] in text and re.search("1 ?/ ?1$", text), text
        assert VERDICT.findall(text) == []


def test_without_the_familys_consent_there_is_no_paper_and_before_a_decision_no_letter(cast, ama, review, as_teacher):
    sheet, letter = (reverse(f"progress:review-{kind}", args=[review.pk]) for kind in ("sheet", "letter"))
    assert (as_teacher.get(sheet).status_code, as_teacher.get(letter).status_code) == (200, 302)
    agree(cast, ama, Consent.FAMILY, is_given=False)
    assert as_teacher.get(sheet).status_code == 302


def test_a_class_stands_by_name_with_what_waits_and_what_is_missing(cast, ama, review, as_teacher):
    agree(cast, cast.bettina)
    measured(cast, cast.bettina, cast.rises, "L", 12)
    decided(review, cast.teacher, look_again_on=dt.date(2026, 6, 16))
    read = class_reviews(cast.class_group, cast.term, today=TODAY, now=timezone.now())
    assert [(row.student.name, row.decision and row.decision.decided, "rises" in row.missing) for row in read.rows] == [
        ("Ama Owiredu", "Not this year.", True), ("Bettina Krall", None, False),
    ]
    assert [(each.students, each.everybody) for each in read.to_measure][:2] == [
        ((cast.ama,), False), ((cast.ama, cast.bettina), True),
    ]
    agree(cast, ama, Consent.MEASUREMENTS, is_given=False)
    page = as_teacher.get(reverse("progress:class-reviews", args=[cast.class_group.pk])).content.decode()
    assert "no consent to measurements" in page and "Not this year." not in page and "16 June" not in page
    assert VERDICT.findall(re.sub(r"<[^>]*>", " ", page)) == []
