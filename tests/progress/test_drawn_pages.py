"""A term on one line, heights as a curve, the way back as a staircase: what they show and what they leave out."""
import datetime as dt
import re

import pytest
from defusedxml import ElementTree

from progress.drawing.height_curve import Height, height_curve
from progress.drawing.stairs import stairs
from progress.drawing.term_line import Bar, Span, term_line
from screening.models import Protocol
from tests import factories
from tests.conftest import TODAY
from tests.progress.chart_cases import AS_OF, PLAIN_TERM, day


def drawn(**more) -> str:
    bars = [Bar("Élevés on two feet", (Span(day(1, 0), day(6, 4), "2 × 8"), Span(day(8, 0), AS_OF, "2 × 10")), **more)]
    return term_line(PLAIN_TERM, bars, name="rises, one foot")


def test_a_term_on_one_line_has_results_events_and_doses_and_no_verdict():
    text = " ".join(ElementTree.fromstring(drawn()).itertext())
    assert all(words in text for words in ("rises, one foot", "2 × 8", "2 × 10", "Élevés on two feet", "half-term"))
    assert "gaining" not in text.replace(PLAIN_TERM.sentence, "") and "target" not in text
    assert drawn().count("<circle") >= 24


def test_what_pain_paused_is_dotted_in_rust_with_its_day():
    paused = drawn(paused_on=day(11, 0), paused_words="paused since 16 March")
    assert "paused since 16 March" in paused and len(re.findall('chart-stroke-stop"[^>]*dasharray', paused)) == 1
    assert not re.findall('chart-stroke-stop"[^>]*dasharray', drawn())


def test_two_heights_make_a_curve_and_one_makes_none():
    first = Height(day(1, 0), 146.0, "5 January", "146.0 cm")
    assert height_curve([first], title="Height") == ""
    curve = ElementTree.fromstring(height_curve([first, Height(AS_OF, 147.2, "24 March", "147.2 cm")], title="Height"))
    low, high = (float(c.get("cy")) for c in curve.iter("circle"))
    assert high < low and "24 March: 147.2 cm" in curve.get("aria-label")


@pytest.mark.parametrize("days", [7, 30, 45, 60, 90, 120, 400])
def test_the_days_of_two_heights_never_lie_over_each_other(days):
    on = AS_OF - dt.timedelta(days=days)
    two = [Height(on, 147.0, "22 September 2026", "147 cm"), Height(AS_OF, 148.0, "22 December 2026", "148 cm")]
    curve = ElementTree.fromstring(height_curve(two, title="Height"))
    spans = []
    for words in curve.iter():
        if words.tag.endswith("text") and "2026" in "".join(words.itertext()):
            # A letter of the text is at most half as wide as it is high.
            x, wide = float(words.get("x")), len("".join(words.itertext())) * float(words.get("font-size")) / 2
            spans.append((x - wide, x) if words.get("text-anchor") == "end" else (x, x + wide))
    spans.sort()
    assert spans and all(one[1] <= other[0] for one, other in zip(spans, spans[1:], strict=False))


def test_two_heights_of_a_fortnight_do_not_look_like_a_spurt():
    first, last = Height(day(1, 0), 146.0, "", ""), Height(day(3, 0), 146.4, "", "")
    curve = ElementTree.fromstring(height_curve([first, last], title="Height"))
    low, high = (float(c.get("cy")) for c in curve.iter("circle"))
    assert low - high < 10


def test_the_present_step_stands_on_its_stair():
    [bar] = ElementTree.fromstring(stairs(5, 2)).iter("rect")
    assert float(bar.get("x")) == 45 and "rect" not in stairs(5, None)


def test_the_story_begins_with_the_term_on_one_line(as_teacher, cast):
    for week, value in enumerate((8, 9, 9, 10)):
        factories.ResultFactory(
            screening=cast.screening, student=cast.ama, measure=cast.rises, side="L", value=value, attempt=week + 1,
            by=cast.teacher, protocol=Protocol.objects.get(measure=cast.rises),
            taken_on=TODAY - dt.timedelta(weeks=4 - week),
        )
    page = as_teacher.get(f"/students/{cast.ama.pk}/story/").content.decode()
    assert page.index("chart-line") < page.index('class="timeline')
