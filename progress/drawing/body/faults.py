"""Form faults as pairs: clean on the left, the fault on the right, told by the axis and not by a colour of alarm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from progress.drawing.body.build import FLOOR, FOOT, FULL
from progress.drawing.body.figures import FREE_FROM_FRONT, from_side, on_one_leg
from progress.drawing.body.geometry import Bone, bone
from progress.drawing.body.legs import Leg, front_leg, grounded, stand
from progress.drawing.body.limbs import draw_foot
from progress.drawing.body.plate import Plate

LEFT, RIGHT = 84, 236
# How far the skin of the heel lies under the line of the sole, in lengths of the foot.
SOLE_DROP = 0.082


def _pair(draw: Callable[[Plate, float, bool], None]) -> Callable[[], Plate]:
    def drawn() -> Plate:
        plate = Plate()
        draw(plate, LEFT, False)
        plate.right_from = len(plate.items)
        draw(plate, RIGHT, True)
        return plate

    return drawn


def _rolls(outwards: int) -> Callable[[Plate, float, bool], None]:
    """The ankle of a risen foot from the front, tipped out (1) or in (-1)."""

    def draw(plate: Plate, x: float, is_fault: bool) -> None:
        plate.floor(x - 62, x + 62)
        tip = outwards * is_fault
        leg = front_leg(x - 10 * tip, FULL, tip=15 * tip, lean=-6 * tip, scale=3.3)
        draw_foot(plate, leg, 0.62)
        column, shank = leg.bones["C"], leg.bones["S"]
        plate.axis(column.at(0), column.at(1), shank.at(0.72))

    return draw


def _wobble(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - 62, x + 62)
    for tip in (13, -13) if is_fault else ():
        draw_foot(plate, front_leg(x, FULL, tip=tip, lean=-tip / 2, scale=3.3), 0.62, "ghost")
    leg = front_leg(x, FULL, scale=3.3)
    draw_foot(plate, leg, 0.62)
    if is_fault:
        plate.movement((x - 40, 86), (x, 74), (x + 40, 86))
    else:
        plate.axis(leg.bones["C"].at(0), leg.bones["S"].at(0.72))


def _toes_gripped(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - 66, x + 66)
    bent = {"toe": -26.0, "curl": 82.0} if is_fault else {}
    draw_foot(plate, stand(x + 20, scale=3.7, **bent), 0.42)


def _sickled(plate: Plate, x: float, is_fault: bool) -> None:
    """A pointed foot from the front: its column hangs below the ankle and turns in where it should run on."""
    leg = front_leg(x, 60, scale=3.4)
    ankle = leg.ankle
    turned = {"C": 20 * is_fault, "B": 25 * is_fault}
    bones = dict(leg.bones)
    for letter, angle in turned.items():
        high = (leg.bones[letter].along[0] ** 2 + leg.bones[letter].along[1] ** 2) ** 0.5 * 1.1
        down = bone(ankle, 180 + angle, high, FOOT * 3.4 * 0.8)
        bones[letter] = Bone(down.at(1), (-down.along[0], -down.along[1]), (-down.across[0], -down.across[1]))
    up = (0.0, 118 - ankle[1])
    hung = replace(leg, bones={letter: each.moved(up) for letter, each in bones.items()})
    draw_foot(plate, hung, 0.6)
    shank = hung.bones["S"]
    plate.axis(shank.at(0.6), shank.at(0), hung.bones["C"].at(-0.02))


def _heel_low(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - 62, x + 62)
    draw_foot(plate, stand(x - 4, 40, -3, scale=3.2) if is_fault else stand(x - 4, FULL, scale=3.2), 0.5)
    plate.axis((x - 60, 136), (x + 60, 136))


def _point_short(plate: Plate, x: float, is_fault: bool) -> None:
    """A long foot on the floor: the line of shin and instep straight, or short of it."""
    plate.floor(x - 74, x + 62)
    leg = grounded(x + 22, -40 if is_fault else -2, -80, toe=-34 if is_fault else 4, scale=1.75)
    draw_foot(plate, leg, 0.9)
    plate.axis(leg.bones["S"].at(0.9, 0.08), leg.ankle, leg.bones["D"].at(0.12, 0.0))


def _bent_knee(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - 50, x + 50)
    pose = (62, 22, 36) if is_fault else (FULL, 0, 0)
    leg = stand(x, *pose)
    from_side(plate, leg, stand(x + 6, *pose), lean=4 * is_fault)
    plate.axis(leg.hip, leg.knee, leg.ankle)


def _hip_moves(way: int) -> Callable[[Plate, float, bool], None]:
    """The free side of the pelvis sinks (-1) or is hitched up (1)."""

    def draw(plate: Plate, x: float, is_fault: bool) -> None:
        plate.floor(x - 50, x + 50)
        off = way * is_fault
        posed = on_one_leg(
            plate, x + 8, 0, (38 + 6 * off, 84, 56), tilt=12 * off, lean=-4 * off, thigh=-6 * off if off < 0 else 0
        )
        (ax, ay), (bx, by) = posed.other_hip, posed.leg.hip
        plate.axis((ax - 1.6 * (bx - ax), ay - 1.6 * (by - ay)), (bx + 1.6 * (bx - ax), by + 1.6 * (by - ay)))

    return draw


def _knee_falls_in(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - 54, x + 54)
    shank, thigh, tilt = (-19, 21, -7) if is_fault else (0, 0, 0)
    free = (48, 96, 56) if is_fault else (40, 92, 56)
    leg = on_one_leg(plate, x + 6, 0, free, short=0.87, shank=shank, thigh=thigh, tilt=tilt).leg
    column = leg.bones["C"]
    plate.axis(*((column.at(0.05), column.at(1), leg.knee, leg.hip) if is_fault else (column.at(0.05), leg.hip)))


def _heels_lift(plate: Plate, x: float, is_fault: bool) -> None:
    """The foot of a plié, large."""
    plate.floor(x - 66, x + 66)
    leg = stand(x, 20 if is_fault else 0, 30, scale=3.4)
    draw_foot(plate, leg, 0.5)
    plate.axis(leg.bones["P"].at(0, -SOLE_DROP), leg.bones["F"].at(-0.62, -SOLE_DROP))


def _weight_back(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - 50, x + 50)
    lean = -9 if is_fault else 0
    leg = stand(x + 6, 0, lean)
    from_side(plate, leg, stand(x + 12, 0, lean), lean=lean)
    plate.axis((leg.ankle[0] + 3, FLOOR - 2), (leg.ankle[0] + 3, 26))


def _foot_down(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - 56, x + 56)
    on_one_leg(plate, x + 8, 0, (10, 4, 6) if is_fault else FREE_FROM_FRONT, arms="crossed")


def _arms_open(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - 50, x + 50)
    on_one_leg(plate, x + 8, 0, arms="open" if is_fault else "crossed")


def _steps_out(plate: Plate, x: float, is_fault: bool) -> None:
    plate.floor(x - (80 if is_fault else 62), x + 66)
    leg: Leg = stand(x - 2 + 30 * is_fault, scale=2.3)
    if is_fault:
        draw_foot(plate, stand(x - 20, scale=2.3), 0.6, "ghost")
    draw_foot(plate, leg, 0.6)
    if is_fault:
        plate.movement((x - 34, 122), (x - 10, 112), (x + 14, 122))



rolls_out, rolls_in, wobble = _pair(_rolls(1)), _pair(_rolls(-1)), _pair(_wobble)
toes_gripped, sickled, heel_low, bent_knee = _pair(_toes_gripped), _pair(_sickled), _pair(_heel_low), _pair(_bent_knee)
hip_sinks, hip_lifts, knee_falls_in = _pair(_hip_moves(-1)), _pair(_hip_moves(1)), _pair(_knee_falls_in)
heels_lift, weight_back = _pair(_heels_lift), _pair(_weight_back)
foot_down, arms_open, steps_out = _pair(_foot_down), _pair(_arms_open), _pair(_steps_out)
point_short = _pair(_point_short)
