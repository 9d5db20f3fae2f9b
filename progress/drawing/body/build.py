"""The proportions of the drawn child and the outlines of the limbs, told from their bones. From memory, by eye.

An outline is a row of control points. Each is held by one bone, or by the middle of two where a joint bends: so a limb
keeps its length, tapers, and bends without a seam.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from progress.drawing.body.geometry import Bone, Point, middle

WIDTH, HEIGHT, FLOOR = 320, 240, 222
# A child of about ten, px.
STATURE = 178
THIGH, SHANK, FOOT = 0.245 * STATURE, 0.235 * STATURE, 0.172 * STATURE
TRUNK, HEAD = 0.3 * STATURE, 0.158 * STATURE
UPPER_ARM, FOREARM, HAND = 0.165 * STATURE, 0.14 * STATURE, 0.085 * STATURE
# The ankle as seen from the ball of the foot, and how far the sole lies under that, in lengths of the foot.
ANKLE, SOLE = (-0.47, 0.22), 0.07
# The pitch of the sole at the full height of demi-pointe: the ankle then stands over the ball.
FULL = 67.0


class Hold(NamedTuple):
    """Where one bone holds a point: its letter, how far along, how far across."""

    bone: str
    share: float
    aside: float


class Control(NamedTuple):
    """A control point of an outline; at a joint two bones hold it."""

    first: Hold
    second: Hold | None = None

    @property
    def is_joint(self) -> bool:
        return self.second is not None


def outline(rows: Iterable[tuple]) -> tuple[Control, ...]:
    """Rows of (bone, share, aside), or of two such in one row."""
    return tuple(Control(Hold(*row[:3]), Hold(*row[3:]) if len(row) > 3 else None) for row in rows)


def placed(bones: Mapping[str, Bone], controls: Iterable[Control]) -> list[Point]:
    """Where the bones put the controls."""
    points = []
    for first, second in controls:
        point = bones[first.bone].at(first.share, first.aside)
        if second:
            point = middle(point, bones[second.bone].at(second.share, second.aside))
        points.append(point)
    return points


# From the side, across > 0 in front. T thigh, S shank (0 low, 1 high), F foot from the ball, P and D the toes' bones.
LEG_SIDE = outline([
    ("T", 0.88, 0.23), ("T", 0.7, 0.235), ("T", 0.45, 0.212), ("T", 0.2, 0.165),
    ("T", 0.06, 0.162, "S", 1.04, 0.152), ("T", -0.03, 0.162, "S", 0.97, 0.157), ("S", 0.86, 0.13),
    ("S", 0.6, 0.118), ("S", 0.32, 0.096), ("S", 0.12, 0.088), ("S", -0.01, 0.1, "F", -0.38, 0.275),
    ("F", -0.27, 0.235), ("F", -0.15, 0.165), ("F", -0.04, 0.1), ("F", 0.02, 0.065, "P", 0.0, 0.07),
    ("P", 0.09, 0.04), ("D", 0.0, 0.048), ("D", 0.1, 0.05), ("D", 0.165, 0.0), ("D", 0.135, -0.072),
    ("D", 0.05, -0.08), ("P", 0.1, -0.05), ("P", 0.04, -0.075, "F", 0.03, -0.09), ("F", -0.05, -0.092),
    ("F", -0.16, -0.075), ("F", -0.32, -0.015), ("F", -0.45, -0.045), ("F", -0.54, -0.082), ("F", -0.68, -0.082),
    ("F", -0.755, -0.01), ("F", -0.725, 0.1), ("F", -0.675, 0.17, "S", 0.14, -0.105), ("S", 0.24, -0.095),
    ("S", 0.36, -0.125), ("S", 0.5, -0.18), ("S", 0.64, -0.215), ("S", 0.78, -0.205), ("S", 0.9, -0.15),
    ("S", 1.0, -0.122, "T", 0.0, -0.122), ("T", 0.14, -0.155), ("T", 0.38, -0.198), ("T", 0.58, -0.22),
    ("T", 0.74, -0.23),
])
# From the front, across > 0 outside. C is the column of the foot from the floor (0) to the ankle (1), B its base, the
# toes, which tip less than the column.
LEG_FRONT = outline([
    ("T", 1.0, 0.195), ("T", 0.8, 0.195), ("T", 0.5, 0.165), ("T", 0.2, 0.122), ("T", 0.0, 0.118, "S", 1.0, 0.118),
    ("S", 0.88, 0.113), ("S", 0.68, 0.148), ("S", 0.48, 0.134), ("S", 0.25, 0.083), ("S", 0.09, 0.075),
    ("S", 0.02, 0.085, "C", 0.98, 0.12), ("C", 0.9, 0.135), ("C", 0.78, 0.105), ("C", 0.6, 0.12), ("C", 0.4, 0.165),
    ("C", 0.2, 0.225), ("B", 0.09, 0.245), ("B", -0.03, 0.235), ("B", -0.05, 0.175), ("B", 0.05, 0.16),
    ("B", -0.05, 0.12), ("B", -0.07, 0.095), ("B", 0.06, 0.075), ("B", -0.07, 0.045), ("B", -0.07, 0.015),
    ("B", 0.07, -0.005), ("B", -0.07, -0.03), ("B", -0.07, -0.06), ("B", 0.08, -0.08), ("B", -0.07, -0.1),
    ("B", -0.07, -0.205), ("B", 0.08, -0.235), ("C", 0.22, -0.215), ("C", 0.42, -0.155), ("C", 0.64, -0.115),
    ("C", 0.84, -0.11), ("C", 0.96, -0.145), ("C", 1.06, -0.135, "S", 0.05, -0.085), ("S", 0.12, -0.075),
    ("S", 0.3, -0.09), ("S", 0.53, -0.145), ("S", 0.72, -0.15), ("S", 0.88, -0.113),
    ("S", 1.0, -0.118, "T", 0.0, -0.122), ("T", 0.1, -0.137), ("T", 0.35, -0.16), ("T", 0.6, -0.175),
    ("T", 0.86, -0.185),
])
# U upper arm, A forearm, W hand.
ARM = outline([
    ("U", 0.2, 0.16), ("U", 0.4, 0.15), ("U", 0.75, 0.125), ("U", 1.0, 0.115, "A", 0.0, 0.13), ("A", 0.25, 0.14),
    ("A", 0.7, 0.1), ("A", 1.0, 0.085), ("W", 0.25, 0.19), ("W", 0.65, 0.18), ("W", 1.05, 0.12), ("W", 1.07, -0.02),
    ("W", 0.7, -0.15), ("W", 0.25, -0.19), ("A", 1.0, -0.09), ("A", 0.7, -0.105), ("A", 0.25, -0.145),
    ("U", 1.0, -0.115, "A", 0.0, -0.13), ("U", 0.75, -0.14), ("U", 0.4, -0.175), ("U", 0.2, -0.18),
])
SLEEVE = (
    (0.5, 0.18), (0.22, 0.19), (-0.06, 0.165), (-0.17, 0.0), (-0.06, -0.165), (0.22, -0.2), (0.5, -0.205),
    (0.5, -0.205), (0.5, 0.18),
)
TRUNK_SIDE = (
    (-0.1, 0.12), (-0.04, 0.18), (0.12, 0.185), (0.28, 0.17), (0.44, 0.158), (0.6, 0.175), (0.76, 0.18), (0.89, 0.135),
    (0.98, 0.07), (1.0, 0.0), (0.98, -0.1), (0.88, -0.165), (0.72, -0.19), (0.54, -0.158), (0.38, -0.125),
    (0.22, -0.16), (0.06, -0.228), (-0.1, -0.23), (-0.19, -0.19), (-0.24, -0.175),
)
# One half, from the hip to the neck.
TRUNK_FRONT = (
    (-0.1, 0.31), (0.04, 0.31), (0.18, 0.27), (0.38, 0.205), (0.58, 0.228), (0.76, 0.26), (0.88, 0.295), (0.93, 0.265),
    (0.97, 0.16), (0.99, 0.0),
)
HEAD_SIDE = (
    (-0.5, 0.2), (-0.3, 0.15), (-0.03, 0.11), (0.0, 0.24), (-0.01, 0.35), (0.08, 0.42), (0.24, 0.445), (0.36, 0.49),
    (0.5, 0.46), (0.76, 0.45), (0.98, 0.26), (1.04, -0.04), (0.95, -0.34), (0.72, -0.49), (0.45, -0.49), (0.24, -0.38),
    (0.1, -0.24), (-0.1, -0.2), (-0.25, -0.22), (-0.36, -0.26),
)
HAIR_SIDE = (
    (0.72, 0.45), (0.86, 0.43), (1.01, 0.26), (1.08, -0.04), (0.99, -0.37), (0.74, -0.53), (0.45, -0.53), (0.22, -0.42),
    (0.06, -0.27), (0.08, -0.2), (0.26, -0.16), (0.4, -0.17), (0.46, -0.06), (0.62, -0.02), (0.74, 0.12), (0.7, 0.3),
    (0.72, 0.45),
)
# One half, from the neck to the crown.
HEAD_FRONT = (
    (-0.4, 0.26), (-0.28, 0.18), (-0.05, 0.175), (0.04, 0.27), (0.2, 0.385), (0.45, 0.42), (0.75, 0.41), (0.99, 0.265),
    (1.05, 0.0),
)
HAIR_FRONT = (
    (0.44, -0.43), (0.76, -0.44), (1.0, -0.29), (1.09, 0.0), (1.0, 0.29), (0.76, 0.44), (0.44, 0.43), (0.5, 0.37),
    (0.68, 0.33), (0.8, 0.14), (0.72, -0.1), (0.66, -0.3), (0.48, -0.37), (0.44, -0.43),
)
# A foot looked down at: along from the ankle to the toes, across > 0 towards the little toe.
FOOT_ABOVE = (
    (-1.0, 0.2), (-0.6, 0.16), (-0.3, 0.125), (-0.12, 0.125), (-0.02, 0.16), (0.1, 0.135), (0.24, 0.15), (0.4, 0.2),
    (0.5, 0.215), (0.57, 0.2), (0.62, 0.195), (0.63, 0.14), (0.575, 0.135), (0.66, 0.14), (0.68, 0.07), (0.61, 0.075),
    (0.7, 0.075), (0.72, 0.0), (0.63, 0.015), (0.735, 0.01), (0.75, -0.06), (0.64, -0.055), (0.74, -0.06),
    (0.785, -0.1), (0.76, -0.185), (0.67, -0.195), (0.56, -0.175), (0.5, -0.2), (0.4, -0.185), (0.22, -0.12),
    (0.08, -0.11), (-0.02, -0.145), (-0.12, -0.12), (-0.3, -0.12), (-0.6, -0.15), (-1.0, -0.19),
)
