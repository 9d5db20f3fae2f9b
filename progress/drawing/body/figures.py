"""Whole figures: on their near leg from the side, on one or two legs from the front, with a hand where it belongs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from progress.drawing.body.build import FOOT, FOREARM, FULL, HAND, TRUNK, UPPER_ARM
from progress.drawing.body.geometry import Point, bone
from progress.drawing.body.legs import Leg, front_leg, hang, stand
from progress.drawing.body.limbs import draw_arm, draw_foot, draw_leg, draw_trunk, trunk_from_front
from progress.drawing.body.plate import BARRE_RADIUS, Plate

# Half of the way between the hip joints as seen from the front, px.
HALF_HIPS = 8
# The height of the barre, px: about the child's waist.
BARRE_Y = 116
# The free foot by the ankle of the other: thigh, knee, point.
BY_THE_ANKLE = (33, 70, 55)
# The same from the front, where the thigh opens.
FREE_FROM_FRONT = (38, 84, 60)
# How far the palm lies above the middle of the barre it rests on.
PALM = BARRE_RADIUS + 1.5


def from_side(
    plate: Plate, leg: Leg, far: Leg | None = None, *, lean: float = 0.0, wrist: Point | None = None,
    head: float = 0.0, side: int = 1, free: Leg | None = None, palm_at: float | None = None,
) -> Point:
    """A figure on its near leg; `far` stands behind, `free` is drawn last. Gives the shoulder."""
    if far:
        draw_leg(plate, far.with_hem((0.76, 0.225), (0.74, -0.23)), "far")
    shoulder = draw_trunk(plate, leg, lean, head=head)
    draw_leg(plate, leg)
    if free:
        draw_leg(plate, free)
    down = (shoulder[0] + leg.facing * 12, shoulder[1] + 51)
    draw_arm(plate, shoulder, wrist or down, side * leg.facing, palm_at=palm_at)
    return shoulder


def at_the_barre(
    plate: Plate, x: float, leg: Leg, far: Leg | None = None, *, lean: float = 0.0, free: Leg | None = None,
    lifted: float = 0.0,
) -> None:
    """A figure that faces a barre seen from its end; `lifted` px the hand floats above it."""
    plate.barre(x, BARRE_Y)
    from_side(plate, leg, far, lean=lean, free=free, wrist=(x - HAND * 0.7, BARRE_Y - PALM - lifted),
              palm_at=98)


def at_a_counter(plate: Plate, edge: float, leg: Leg, far: Leg) -> None:
    """A figure that faces a worktop, its fingers on it."""
    plate.counter(edge, edge + 40, BARRE_Y)
    from_side(plate, leg, far, wrist=(edge - HAND * 0.3, BARRE_Y - PALM), palm_at=98)


def beside_the_barre(
    plate: Plate, leg: Leg, far: Leg | None = None, *, lean: float = 0.0, free: Leg | None = None,
    lifted: float = 0.0, reach: float = 22.0,
) -> None:
    """A figure in front of a barre that runs along behind it: the far hand rests on it, before the body."""
    shoulder = bone(leg.hip, lean, TRUNK, facing=leg.facing).at(0.89)
    wrist = (leg.hip[0] + reach, BARRE_Y - PALM - lifted)
    draw_arm(plate, shoulder, wrist, 1, "far", palm_at=94, has_sleeve=False)
    from_side(plate, leg, far, lean=lean, free=free)


@dataclass(frozen=True)
class OneLeg:
    """A figure on one leg from the front: the leg it stands on, where the free one hangs, and its shoulders."""

    leg: Leg
    other_hip: Point
    shoulders: tuple[Point, Point]


def on_one_leg(
    plate: Plate, x: float, heel: float, free: Sequence[float] = FREE_FROM_FRONT, *, tilt: float = 0.0,
    lean: float = 0.0, arms: str = "low", facing: int = 1, shank: float = 0.0, thigh: float = 0.0, short: float = 1.0,
) -> OneLeg:
    """From the front on the leg that is right in the picture (`facing` 1); `free` poses the other from its hip."""
    leg = front_leg(x, heel, facing=facing, lean=shank, thigh=thigh, short=short)
    across = bone(leg.hip, -90 * facing + lean + tilt, HALF_HIPS)
    mid, hip = across.at(1), across.at(2)
    shoulders = trunk_from_front(plate, mid, lean, tilt)
    draw_leg(plate, leg)
    crotch = [bone(mid, 180, 13).at(1), leg.bones["T"].at(0.86, -0.185)]
    draw_leg(plate, hang(hip, *free, facing=-facing).with_hem((0.9, 0.22), (0.72, -0.23), crotch))
    _arms(plate, shoulders, arms)
    return OneLeg(leg, hip, shoulders)


def _arms(plate: Plate, shoulders: tuple[Point, Point], way: str) -> None:
    """Both arms from the front: "low", "round", "side", "open" (half raised), "crossed", or "none" for now."""
    for shoulder, side in zip(shoulders, (-1, 1), strict=True):
        x, y = shoulder
        if way == "low":
            draw_arm(plate, shoulder, (x + side * 8, y + 51), -side)
        elif way == "round":
            draw_arm(plate, shoulder, (x + side * 5, y + 46), -side, hand=side * 20)
        elif way == "side":
            draw_arm(plate, shoulder, (x + side * 51, y + 14), -side)
        elif way == "open":
            draw_arm(plate, shoulder, (x + side * 40, y + 33), -side)
        elif way == "crossed":
            draw_arm(plate, shoulder, (x - side * 19, y + 15), -side)


def across_the_barre(
    plate: Plate, left: float, right: float, *figures: tuple[Point, Point], y: float = BARRE_Y
) -> None:
    """A barre in front of figures seen from the front, and the hands of each pair of shoulders on it."""
    plate.long_barre(left, right, y, (left + 8, right - 8))
    for shoulders in figures:
        for (sx, sy), side in zip(shoulders, (-1, 1), strict=True):
            wrist = (sx + side * 9, y - PALM - 2)
            far = ((wrist[0] - sx) ** 2 + (wrist[1] - sy) ** 2) ** 0.5
            draw_arm(plate, (sx, sy), wrist, -side, short=min(1.0, far * 1.06 / (UPPER_ARM + FOREARM)), hand=side * 14)


def turned_out(
    plate: Plate, x: float, heel: float, *, gap: float = 4.0, lean: float = 2.0, squeeze: float = 0.72,
    arms: str = "round",
) -> tuple[Point, Point]:
    """From the front on both legs turned out, heels `gap` px from the middle: the eye sees their inner sides.

    Gives the shoulders.
    """
    legs = []
    for facing in (-1, 1):
        reach = stand(0, heel, facing=facing, squeeze=squeeze).ankle[0]
        ball = x + facing * (gap + 0.24 * FOOT * squeeze * (heel < FULL / 2)) - reach
        legs.append(stand(ball, heel, lean, facing=facing, squeeze=squeeze).with_hem((0.9, 0.195), (0.76, -0.2)))
    half, high = (legs[1].hip[0] - legs[0].hip[0]) / 2, legs[0].hip[1]
    mid = (legs[0].hip[0] + half, high)
    legs[1] = legs[1].with_hem(*legs[1].hem, [(mid[0], high + 14), legs[0].bones["T"].at(0.74, -0.2)])
    thigh = legs[1].bones["T"]
    shoulders = trunk_from_front(plate, mid, hem=[thigh.at(share, 0.195) for share in (0.7, 0.82, 0.94)])
    for leg in legs:
        draw_leg(plate, leg)
    _arms(plate, shoulders, arms)
    return shoulders


def large_foot(plate: Plate, x: float, scale: float, heel: float = FULL, cut: float = 0.5, lean: float = 0.0) -> Leg:
    """A risen foot shown large, the flat one behind it as a ghost."""
    draw_foot(plate, stand(x, scale=scale), cut, "ghost")
    leg = stand(x, heel, lean, scale=scale)
    draw_foot(plate, leg, cut)
    return leg


