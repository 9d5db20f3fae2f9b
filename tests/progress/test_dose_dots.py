"""A dose drawn to be counted: as many marks as repetitions, both feet where it is for each."""
import re

import pytest

from progress.drawing.dose_dots import dose_dots


def marks(svg):
    return [path.count("M") for path in re.findall(r' d="([^"]+)"', svg)]


@pytest.mark.parametrize("sets, reps, hold, each_foot, wanted", [
    (1, 8, None, False, [8]), (3, 16, None, False, [48]), (2, 10, 5, False, [20]), (3, 1, 10, True, [3, 3]),
    (2, 12, None, True, [24, 24]), (1, 1, None, False, [1]),
])
def test_there_are_as_many_marks_as_repetitions(sets, reps, hold, each_foot, wanted):
    assert marks(dose_dots(sets, reps, hold, each_foot=each_foot)) == wanted


def test_left_is_open_and_right_is_filled():
    left, right = re.findall(r'class="(mark-\w+)"', dose_dots(1, 4, each_foot=True))
    assert (left, right) == ("mark-ring", "mark-dot")


@pytest.mark.parametrize("sets, reps", [(0, 0), (1, 25), (7, 8), (10, 100)])
def test_what_nobody_counts_at_a_look_is_left_to_the_words(sets, reps):
    assert dose_dots(sets, reps) == ""


@pytest.mark.parametrize("sets, reps, hold", [(2, 12, None), (3, 1, 15), (2, 8, 5), (1, 24, None)])
def test_every_mark_lies_inside_its_drawing(sets, reps, hold):
    svg = dose_dots(sets, reps, hold, each_foot=True)
    wide, high = (float(each) for each in re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg).groups())
    ends = [(float(x), float(y)) for x, y in re.findall(r"M([\d.]+) ([\d.]+)", svg)]
    assert all(0 <= x < wide and 0 <= y < high for x, y in ends)
