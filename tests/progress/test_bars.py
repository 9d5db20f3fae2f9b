"""The bars of the term overview: what a copier or a grey printer leaves of them tells the verdicts apart."""
import re

from progress.drawing.bars import bar
from progress.drawing.ink import TOKENS
from progress.words.verdict import VERDICTS


def in_grey(key: str, count: int = 7, width: int = 60) -> str:
    """The bar with accent and ink as one dark, without classes and the figure."""
    drawn = bar([(key, count)], words="", width=width)
    drawn = re.sub(r'<text.*?</text>| class="[^"]*"', "", drawn)
    return re.sub("|".join((TOKENS["accent"], TOKENS["ink"])), "dark", drawn, flags=re.IGNORECASE)


def test_each_verdict_has_a_shape_of_its_own_without_colour():
    shapes = {key: in_grey(key) for key in VERDICTS}
    assert len(set(shapes.values())) == len(VERDICTS), shapes


def test_a_key_too_small_for_a_figure_has_the_same_shapes():
    assert len({in_grey(key, 1, 12) for key in VERDICTS}) == len(VERDICTS)


def test_a_gain_climbs_a_loss_falls_and_a_stall_lies_level():
    def ways(key: str) -> set[str]:
        lines = re.findall(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)", bar([(key, 3)], words="", width=60))
        return {"up" if float(y2) < float(y1) else "down" for _x1, y1, _x2, y2 in lines}

    assert (ways("gaining"), ways("slipping"), ways("stalled")) == ({"up"}, {"down"}, set())


def test_lines_stay_within_their_piece():
    drawn = bar([("done", 1), ("gaining", 1), ("left", 2)], words="", width=81)
    xs = [float(x) for pair in re.findall(r"M([\d.]+) [\d.]+L([\d.]+)", drawn) for x in pair]
    assert min(xs) >= 20.5 and max(xs) <= 40.5
