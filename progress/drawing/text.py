"""Says how wide words will be in Source Sans 3 and finds them a free place; knows no chart and draws
nothing.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

# Advance widths of space to tilde in Source Sans 3 Regular 3.052, in thousandths of the size, read from the
# font file.
_REGULAR = (
    200, 289, 426, 497, 497, 824, 609, 249, 303, 303, 418, 497, 249, 311, 249, 350, 497, 497, 497,
    497, 497, 497, 497, 497, 497, 497, 249, 249, 497, 497, 497, 425, 847, 544, 588, 571, 615, 527,
    494, 617, 652, 263, 480, 579, 486, 727, 647, 664, 566, 664, 569, 534, 536, 645, 515, 786, 513,
    476, 539, 303, 350, 303, 497, 500, 542, 504, 553, 456, 555, 496, 292, 504, 544, 246, 247, 495,
    255, 829, 547, 542, 555, 555, 347, 419, 338, 544, 467, 719, 446, 467, 425, 303, 241, 303, 497,
)  # fmt: skip
# The widest Latin letters with no ASCII base (Œ, Æ) come to 847; ideographs and kana fill the whole square.
_OTHER, _WIDE = 600, 1000
# Semibold letters are 0 to 9 % wider than regular ones (same file), 3 to 6 % in running words.
_WEIGHT = {"regular": 1.0, "semibold": 1.055, "italic": 1.0}
# Ascent of capitals and depth of descenders as parts of the size (font file: cap height 660, descender of
# "g" 205).
_ABOVE, _BELOW = 0.74, 0.23
# A place that hides less than a tenth of a px² or two specks of a line is taken without looking further.
_GOOD = 3.0


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, weight: str = "regular") -> float:
    """Width in px of one line of ``text`` at ``size`` px. ``weight``: "regular", "semibold" or "italic"
    (italic is taken as wide as regular: it is about 3 % narrower).

    Within 3 % of the font for European words, on the wide side for others; 0 for empty text.
    Source: advance widths of Source Sans 3.052; accented letters count as their base letter; kerning is
    not counted.
    """
    thousandths = sum(_advance(letter) for letter in unicodedata.normalize("NFD", text))
    return thousandths * size / 1000 * _WEIGHT[weight]


def _advance(letter: str) -> float:
    if " " <= letter <= "~":
        return _REGULAR[ord(letter) - 32]
    if unicodedata.combining(letter):
        return 0
    if unicodedata.east_asian_width(letter) in "WF":
        return _WIDE
    return {"\u2212": 497, "\u2013": 480, "\u2019": 249, "\u00a0": 200}.get(letter, _OTHER)


@dataclass(frozen=True)
class Box:
    """A rectangle on the drawing, px, y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def grown(self, by: float) -> Box:
        """The same box with ``by`` px more on every side."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def shared(self, other: Box) -> float:
        """Area in px² that both boxes cover; 0 when they only touch."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return wide * high if wide > 0 and high > 0 else 0.0

    def holds(self, x: float, y: float) -> bool:
        """Whether the point lies inside."""
        return self.left < x < self.right and self.top < y < self.bottom


@dataclass(frozen=True)
class Words:
    """One line of words on the drawing: baseline at (x, y), anchored at "start", "middle" or "end".

    ``ink`` is the class that colours it; ``plate``: paper is laid behind it so that lines do not run
    through it.
    """

    text: str
    x: float
    y: float
    size: float
    ink: str = "words"
    anchor: str = "start"
    weight: str = "regular"
    plate: bool = False

    @cached_property
    def box(self) -> Box:
        """The room it takes, by the widths of `text_width`."""
        wide = text_width(self.text, self.size, self.weight)
        left = self.x - {"start": 0, "middle": wide / 2, "end": wide}[self.anchor]
        return Box(left, self.y - _ABOVE * self.size, left + wide, self.y + _BELOW * self.size)


def wrap(text: str, room: float, size: float, weight: str = "regular") -> tuple[str, ...]:
    """``text`` in lines no wider than ``room`` px, broken at spaces only; a word wider than the room
    stays whole.

    Empty text gives no lines. A no-break space never breaks.
    """
    lines: list[str] = []
    for word in [part for part in text.split(" ") if part]:
        if lines and text_width(f"{lines[-1]} {word}", size, weight) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return tuple(lines)


def push_apart(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places as near as possible to ``wanted``, in the same order, at least ``gap`` apart, within low to
    high.

    Order of equal wishes is kept. When the places do not all fit, the range is overrun at the high end
    rather than the gap broken. Least-squares nearest places (pool adjacent violators) before the range
    is applied.
    """
    order = sorted(range(len(wanted)), key=lambda index: wanted[index])
    pools: list[list[float]] = []  # sum of wishes less their steps, count
    for rank, index in enumerate(order):
        pools.append([wanted[index] - rank * gap, 1])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] > pools[-1][0] / pools[-1][1]:
            total, count = pools.pop()
            pools[-1] = [pools[-1][0] + total, pools[-1][1] + count]
    top = high - gap * (len(wanted) - 1)
    flat = [max(low, min(top, total / count)) for total, count in pools for _ in range(int(count))]
    places = [0.0] * len(wanted)
    for rank, index in enumerate(order):
        places[index] = flat[rank] + rank * gap
    return places


def best_place(
    candidates: Iterable[Words], taken: Sequence[Box], specks: Sequence[tuple[float, float]], room: Box
) -> Words:
    """The first candidate that harms nearly nothing, else the one with the least harm: leaving ``room``
    or covering a taken box is worst, then covering ``specks`` (points along lines, which a plate would
    hide).

    At least one candidate is needed (ValueError otherwise). Ties go to the earlier candidate.
    """

    def harm(words: Words) -> float:
        box = words.box.grown(1.5)
        area = (box.right - box.left) * (box.bottom - box.top)
        covered = max(0.0, area - box.shared(room)) + sum(box.shared(other) for other in taken)
        return 1000 * covered + sum(box.holds(x, y) for x, y in specks)

    best, least = None, float("inf")
    for candidate in candidates:
        found = harm(candidate)
        if found < least:
            best, least = candidate, found
        if least < _GOOD:
            break
    if best is None:
        raise ValueError("no candidate")
    return best
