"""The marks beside the words: well-formed, told apart without colour, and free of what a strict CSP
forbids.
"""

import re
from pathlib import Path

import pytest
from defusedxml import ElementTree

from progress.drawing import marks

EVERY_MARK = (
    [marks.verdict(key) for key in marks.VERDICT_KEYS]
    + [marks.side(key) for key in marks.SIDE_KEYS]
    + [marks.saving(key) for key in marks.SAVING_KEYS]
    + [marks.pain(), marks.apart(), marks.not_measured(), marks.logo(), marks.sole(131)]
)


def _tall_strokes(mark: str) -> int:
    return len(re.findall(r" 2V14", mark))


def test_every_mark_is_a_whole_drawing_hidden_from_screen_readers():
    for mark in EVERY_MARK:
        root = ElementTree.fromstring(mark)
        assert root.tag == "svg" and root.get("aria-hidden") == "true"
        assert float(root.get("width")) > 0 and float(root.get("height")) > 0


def test_no_mark_carries_an_inline_style_or_script():
    for mark in EVERY_MARK:
        assert "style=" not in mark and "<style" not in mark and "<script" not in mark


def test_every_coloured_shape_has_a_class_that_the_style_sheet_repaints():
    sheet = Path("static/css/marks.css").read_text(encoding="utf-8")
    for mark in EVERY_MARK:
        for shape in ElementTree.fromstring(mark):
            assert f".{shape.get('class')} " in sheet or f".{shape.get('class')}," in sheet


def test_verdicts_differ_in_shape_and_not_only_in_colour():
    shapes = {re.search(r' d="([^"]+)"', marks.verdict(key)).group(1) for key in marks.VERDICT_KEYS}
    assert len(shapes) == len(marks.VERDICT_KEYS)


def test_only_pain_is_rust():
    assert [mark for mark in EVERY_MARK if marks.STOP in mark] == [marks.pain()]


@pytest.mark.parametrize(("had", "needed", "tall"), [(0, 4, 0), (2, 4, 2), (4, 4, 4), (9, 4, 4), (3, 6, 2)])
def test_the_tally_has_a_tall_stroke_for_each_result_there_is(had, needed, tall):
    assert _tall_strokes(marks.verdict("too_early", had=had, needed=needed)) == tall


def test_left_is_open_and_right_is_filled():
    left, right = marks.side("L"), marks.side("R")
    assert f'fill="{marks.PAPER}"' in left and "stroke-width" in left
    assert f'fill="{marks.INK}"' in right and "stroke" not in right


def test_the_square_of_the_outbox_fills_as_results_leave():
    def filled(state: str) -> float:
        boxes = re.findall(r"mark-fill-soft[^>]+h10v(\d+)h-10", marks.saving(state))
        return sum(float(height) for height in boxes)

    assert filled("open") == 0 < filled("half") < filled("full") == 10


def test_the_sole_reaches_from_the_floor_to_the_heel_at_any_width():
    for width in (60, 131, 182.5):
        path = re.search(r' d="([^"]+)"', marks.sole(width)).group(1)
        assert path.startswith("M2 23.2") and path.endswith(f"{width - 1:g} .8")


@pytest.mark.parametrize(
    "draw",
    [
        lambda: marks.verdict("ready"),
        lambda: marks.side("X"),
        lambda: marks.saving("sent"),
        lambda: marks.sole(0),
        lambda: marks.verdict("too_early", had=-1),
    ],
)
def test_an_unknown_word_is_refused(draw):
    with pytest.raises(ValueError):
        draw()
