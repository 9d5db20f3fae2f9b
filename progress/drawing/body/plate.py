"""Collects the lines of one drawing in their order, and prints them as a small ``<svg>`` without words of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import atan2, cos, sin

from progress.drawing.body.build import FLOOR, HEIGHT, WIDTH
from progress.drawing.body.geometry import Point
from progress.drawing.body.legs import Leg
from progress.drawing.body.paths import GRAIN, circle, curve, line
from progress.drawing.ink import TOKENS

# kind: class of the fill, its ink, ink of the line, its width. The classes are repainted by css/body.css; the literal
# colours stand where no style sheet reaches, in print.
KINDS = {
    "skin": ("body-skin", "paper", "ink", 2.0), "cloth": ("body-cloth", "band", "ink", 2.0),
    "far": ("body-skin", "paper", "soft", 1.4), "farcloth": ("body-cloth", "band", "soft", 1.4),
    "ghost": ("", "", "soft", 1.1), "fold": ("", "", "edge", 1.1),
    "prop": ("", "", "ink", 1.4), "floor": ("", "", "edge", 1.0),
    "strap": ("", "", "soft", 7.0), "strap-core": ("", "", "band", 4.6), "ball": ("body-cloth", "band", "ink", 1.4),
    "rod": ("body-skin", "paper", "ink", 1.4),
    "movement": ("", "", "accent", 2.4), "axis": ("", "", "accent", 1.6),
}
# By how much the lines of a size are thicker than at full width, and the finest that it leaves out.
WEIGHTS = {"large": 1.0, "medium": 1.6, "small": 2.4}
_FINE = {"medium": {"fold"}, "small": {"fold", "floor"}}
_OWN_WIDTH = {"strap", "strap-core"}
_WITH_FILL = {kind for kind, (_name, fill, *_rest) in KINDS.items() if fill}
BARRE_RADIUS = 4.5


@dataclass(frozen=True)
class Arm:
    """Where an arm was drawn: its joints and the tips of its fingers."""

    shoulder: Point
    elbow: Point
    wrist: Point
    tip: Point
    scale: float = 1.0
    short: float = 1.0


@dataclass(frozen=True)
class Barre:
    """A barre: seen from its end it is a point, along the wall a line between two x at one height."""

    left: float
    right: float
    y: float


class Plate:
    """One drawing. `legs`, `arms`, `heads`, `barres` and `floors` remember what was drawn, for checks."""

    def __init__(self) -> None:
        self.items: list[tuple[str, str]] = []
        self.legs: list[tuple[str, Leg]] = []
        self.arms: list[Arm] = []
        self.barres: list[Barre] = []
        self.floors: list[tuple[float, float, float]] = []
        self.heads = 0
        # Where the items of the right half begin, in a pair.
        self.right_from = 0

    def add(self, kind: str, path: str) -> None:
        """A path of one of `KINDS`; lines without fill join the ones just drawn."""
        if self.items and self.items[-1][0] == kind and kind not in _WITH_FILL:
            self.items[-1] = (kind, self.items[-1][1] + path)
        else:
            self.items.append((kind, path))

    def floor(self, left: float, right: float, y: float = FLOOR) -> None:
        self.floors.append((left, right, y))
        self.add("prop", line((left, y + 1), (right, y + 1)))
        self.add("floor", line((left, y + 5), (right, y + 5)))

    def wall(self, x: float) -> None:
        self.add("prop", line((x, 20), (x, FLOOR + 1)))
        self.add("floor", line((x + 4, 20), (x + 4, FLOOR + 5)))

    def post(self, x: float, top: float, low: float = FLOOR) -> None:
        self.add("prop", line((x - 2, low), (x - 2, top)) + line((x + 2, low), (x + 2, top)))

    def barre(self, x: float, y: float) -> None:
        """A barre from its end, on its post: the figure faces it."""
        self.barres.append(Barre(x, x, y))
        self.post(x, y + 4)
        self.add("ball", circle((x, y), BARRE_RADIUS))

    def long_barre(self, left: float, right: float, y: float, posts: Sequence[float] = ()) -> None:
        """A barre along the picture, drawn before the bodies that stand in front of it, or after those behind it."""
        self.barres.append(Barre(left, right, y))
        for x in posts:
            self.post(x, y + 3)
        self.add("rod", line((left, y - 3), (right, y - 3), (right, y + 3), (left, y + 3)) + "z")

    def counter(self, left: float, right: float, y: float) -> None:
        """A worktop at home, as high as a barre, on its cupboard."""
        self.barres.append(Barre(left, right, y))
        self.add("rod", line((left, y - 3), (right, y - 3), (right, y + 3), (left, y + 3)) + "z")
        self.add("prop", line((left + 6, y + 3), (left + 6, FLOOR)))

    def dot(self, at: Point, radius: float) -> None:
        self.add("ball", circle(at, radius))

    def axis(self, *points: Point) -> None:
        self.add("axis", line(*points))

    def movement(self, *points: Point, head: float = 7.0) -> None:
        """The one accent: a curve through control points, or a line through two, with an open head."""
        (x0, y0), (x, y) = points[-2:]
        turn = atan2(y - y0, x - x0)
        wings = [(x - head * cos(turn + half), y - head * sin(turn + half)) for half in (0.55, -0.55)]
        self.add("movement", (curve(points) if len(points) > 2 else line(*points)) + line(wings[0], (x, y), wings[1]))

    def strap(self, *points: Point) -> None:
        """An elastic band."""
        path = curve(points) if len(points) > 2 else line(*points)
        self.add("strap", path)
        self.add("strap-core", path)

    def right_half(self) -> str:
        """The right one of a pair by itself, small."""
        half = WIDTH * GRAIN // 2
        return (
            f'<svg class="body body-half" viewBox="{half} 0 {half} {HEIGHT * GRAIN}" fill="none" stroke-linecap="round"'
            f' stroke-linejoin="round" aria-hidden="true" focusable="false">'
            f'{self._groups("small", self.right_from)}</svg>'
        )

    def svg(self, size: str = "large", label: str = "") -> str:
        """The drawing at one of `WEIGHTS`: 320, about 160 and about 90 px wide. With a `label` it is a picture to the
        ear, without it is passed over.
        """
        spoken = f'role="img" aria-label="{escape(label, quote=True)}"' if label else 'aria-hidden="true"'
        return (
            f'<svg class="body body-{size}" viewBox="0 0 {WIDTH * GRAIN} {HEIGHT * GRAIN}" fill="none"'
            f' stroke-linecap="round" stroke-linejoin="round" {spoken} focusable="false">{self._groups(size)}</svg>'
        )

    def _groups(self, size: str, start: int = 0) -> str:
        weight, groups, last = WEIGHTS[size], [], None
        for kind, path in self.items[start:]:
            if kind in _FINE.get(size, ()):
                continue
            name, fill, ink, width = KINDS[kind]
            wide = (width if kind in _OWN_WIDTH else width * weight) * GRAIN
            if (ink, wide) != last:
                groups.append("</g>" if last else "")
                groups.append(f'<g class="body-{ink}" stroke="{TOKENS[ink]}" stroke-width="{wide:g}">')
                last = (ink, wide)
            paint = f' class="{name}" fill="{TOKENS[fill]}"' if fill else ""
            groups.append(f'<path{paint} d="{path}"/>')
        return "".join(groups) + ("</g>" if last else "")
