"""A student's years in one picture: what was counted over all terms, and nothing that was not agreed to."""
import datetime as dt
import re
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from progress.actions.growth import record_height
from progress.actions.pain import report_pain
from progress.drawing.years import Point, Row, TermSpan, Years, years_svg
from screening.models import Protocol, Result
from studio.models import Consent
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.reading import words_of

AUTUMN = TermSpan("Autumn", "Class A", dt.date(2025, 9, 8), dt.date(2025, 12, 6))
SPRING = TermSpan("Spring", "Class B", dt.date(2026, 1, 5), dt.date(2026, 4, 4))


def drawn(*points: Point, changes=(), pain=(), heights=(), terms=(AUTUMN, SPRING)) -> str:
    rows = (Row("Rises", points, changes),)
    return years_svg(Years("Years", terms, rows, pain, heights, "Pain", "Height", "new", "."))


def at(on: dt.date, value: float, side: str = "R", protocol: int = 1) -> Point:
    return Point(on, side, value, f"{value:g}", protocol)


FIRST, LAST = at(dt.date(2025, 9, 8), 6), at(dt.date(2026, 4, 4), 20)


def circles(svg: str) -> list[float]:
    return [float(x) for x in re.findall(r'<circle [^>]*cx="([\d.]+)"', svg)]


def test_nothing_counted_is_nothing_drawn():
    assert years_svg(Years("Years", (AUTUMN,), (), (), (), "", "", "", "")) == ""
    assert drawn(FIRST, terms=()) == ""


def test_the_first_day_lies_at_the_left_and_the_last_at_the_right():
    first, last = circles(drawn(FIRST, LAST))
    assert first == 168 and 1125 < last < 1136


def test_results_of_two_protocols_are_never_joined():
    def joined(svg: str) -> int:
        return len(re.findall(r'd="M[\d. ]+L', svg))

    assert joined(drawn(FIRST, LAST)) == 1
    other = at(LAST.on, 20, protocol=2)
    svg = drawn(FIRST, other, changes=(LAST.on,))
    assert joined(svg) == 0 and "new" in svg


def test_left_is_open_and_right_is_filled():
    left, right = drawn(at(FIRST.on, 6, "L")), drawn(FIRST)
    assert 'chart-fill-paper" fill' in left and "chart-fill-ink" not in left.split("<circle", 1)[1]
    assert "chart-fill-ink" in right and "chart-fill-paper" not in right


def test_a_day_of_the_holidays_lies_in_the_gap_between_two_terms():
    gap = drawn(FIRST, LAST, pain=(dt.date(2025, 12, 24),))
    [x] = re.findall(r'd="M([\d.]+) 6v18"', gap)
    starts = [float(x) for x in re.findall(r'd="M([\d.]+) 44H', gap)]
    assert starts[0] < float(x) < starts[1] and starts[1] - float(x) == pytest.approx(11, abs=0.1)


def test_heights_too_near_to_read_keep_their_marks_and_lose_their_words():
    days = [dt.date(2026, 2, 1) + dt.timedelta(days=n) for n in (0, 3, 40)]
    svg = drawn(FIRST, LAST, heights=tuple((on, f"14{n}.5") for n, on in enumerate(days)))
    assert len(re.findall("v6", svg)) == 3 and "140.5" in svg and "141.5" not in svg and "142.5" in svg


def test_one_value_alone_is_drawn_without_a_division_by_nothing():
    assert len(circles(drawn(FIRST, at(LAST.on, 6)))) == 2


@pytest.fixture
def two_terms(cast):
    """Ama in two terms and two classes, with pain and a height in the second."""
    autumn = factories.TermFactory(name="Autumn", starts_on=dt.date(2025, 9, 8), ends_on=dt.date(2025, 12, 6))
    factories.EnrolmentFactory(student=cast.ama, class_group=cast.other_class, term=autumn)
    protocol = Protocol.objects.get(measure=cast.rises)
    for on, value, term, group in ((dt.date(2025, 10, 7), 9, autumn, cast.other_class),
                                   (dt.date(2025, 12, 2), 11, autumn, cast.other_class),
                                   (dt.date(2026, 2, 3), 17, cast.term, cast.class_group)):
        held = factories.ScreeningFactory(class_group=group, term=term, battery=cast.battery, held_on=on)
        Result.objects.create(screening=held, student=cast.ama, measure=cast.rises, protocol=protocol, side="L",
                              value=Decimal(value), taken_on=on, by=cast.teacher)
    record_height(student=cast.ama, height_cm=Decimal("148.5"), measured_on=TODAY, by=cast.teacher)
    report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=["R-heel"], feels=["dull"], intensity=3, stopped="nothing", note="", reported_on=TODAY, by=cast.teacher,
    )
    agree(cast, cast.ama)
    return cast


def test_both_terms_stand_with_their_classes_and_their_first_and_last_results(two_terms, as_teacher):
    page = " ".join(as_teacher.get(reverse("progress:years", args=[two_terms.ama.pk])).content.decode().split())
    assert "left 9, last 11" in page and "left 17" in page
    assert page.index("Pre-pointe B") < page.index("Pre-pointe A") and "148.5" in page and "Pain reported" in page


def test_what_is_not_agreed_is_not_drawn(two_terms, as_teacher):
    path = reverse("progress:years", args=[two_terms.ama.pk])
    agree(two_terms, two_terms.ama, Consent.PAIN, is_given=False)
    assert "Pain reported" not in as_teacher.get(path).content.decode()
    agree(two_terms, two_terms.ama, Consent.MEASUREMENTS, is_given=False)
    assert as_teacher.get(path).status_code == 404
    assert as_teacher.get(reverse("progress:print-years", args=[two_terms.ama.pk])).status_code == 404


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_it_is_printed_on_one_page_that_lies_across(two_terms, as_teacher, size):
    answer = as_teacher.get(reverse("progress:print-years", args=[two_terms.ama.pk]) + f"?paper={size}")
    text = " ".join(words_of(answer).split())
    assert re.search("1 ?/ ?1$", text) and "left 9, last 11" in text
