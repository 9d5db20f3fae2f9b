"""Joints and bones in a plane: where a point lies that is told along and across a bone. Pixels, y downwards."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin, sqrt

Point = tuple[float, float]


@dataclass(frozen=True)
class Bone:
    """A joint and two directions: `along` is once its length, `across` once its measure of width."""

    start: Point
    along: Point
    across: Point

    def at(self, share: float, aside: float = 0.0) -> Point:
        """The point `share` of the way along and `aside` measures across."""
        return (
            self.start[0] + self.along[0] * share + self.across[0] * aside,
            self.start[1] + self.along[1] * share + self.across[1] * aside,
        )

    def moved(self, by: Point) -> Bone:
        return Bone((self.start[0] + by[0], self.start[1] + by[1]), self.along, self.across)


def bone(start: Point, angle: float, length: float, width: float | None = None, facing: int = 1) -> Bone:
    """A bone of `length` px at `angle` degrees: 0 upwards, 90 towards where the figure faces (`facing` 1 is right).

    >>> [round(each) for each in bone((0, 0), 90, 10).at(1)]
    [10, 0]
    """
    turn, wide = radians(angle), width or length
    return Bone(
        start, (facing * sin(turn) * length, -cos(turn) * length), (facing * cos(turn) * wide, sin(turn) * wide)
    )


def apart(one: Point, other: Point) -> float:
    return hypot(one[0] - other[0], one[1] - other[1])


def middle(one: Point, other: Point) -> Point:
    return ((one[0] + other[0]) / 2, (one[1] + other[1]) / 2)


def angle_of(start: Point, end: Point) -> float:
    """Degrees of the way from `start` to `end`, as `bone` takes them."""
    return degrees(atan2(end[0] - start[0], start[1] - end[1]))


def between(start: Point, end: Point, width: float) -> Bone:
    """The bone from one joint to another."""
    return bone(start, angle_of(start, end), apart(start, end), width)


def joint_between(start: Point, end: Point, first: float, second: float, side: int = 1) -> Point:
    """The joint between two bones of those lengths that lead from `start` to `end`, bent to that side.

    Where `end` is too far, both lie stretched towards it.

    >>> [round(each, 3) for each in joint_between((0, 0), (6, 0), 5, 5)]
    [3.0, 4.0]
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    whole = hypot(dx, dy) or 1e-6
    far = min(whole, (first + second) * 0.999)
    share = (first**2 - second**2 + far**2) / (2 * far)
    out = sqrt(max(0.0, first**2 - share**2)) * side
    return (start[0] + (dx * share - dy * out) / whole, start[1] + (dy * share + dx * out) / whole)
