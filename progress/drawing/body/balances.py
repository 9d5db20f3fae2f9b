"""Poses of balances, bends on one leg, jumps and landings; each gives a `Plate`."""

from __future__ import annotations

from progress.drawing.body.build import FLOOR, FULL
from progress.drawing.body.figures import (
    BY_THE_ANKLE,
    across_the_barre,
    at_the_barre,
    from_side,
    on_one_leg,
)
from progress.drawing.body.geometry import Point, bone
from progress.drawing.body.legs import Leg, hang, meet, stand
from progress.drawing.body.limbs import draw_arm, draw_leg, draw_trunk
from progress.drawing.body.plate import Plate

# A soft landing on two feet and on one: lean of the shank, bend of the knee.
LANDED, LANDED_ON_ONE = (30, 60), (28, 54)
# In the air the feet hang long.
LONG = 82


def balance_two_feet() -> Plate:
    plate = Plate()
    plate.floor(80, 250)
    at_the_barre(plate, 196, stand(140, FULL), stand(146, FULL), lifted=15)
    plate.axis((144, FLOOR - 2), (144, 12))
    return plate


def balance_passe() -> Plate:
    plate = Plate()
    plate.floor(84, 236)
    on_one_leg(plate, 170, FULL, (80, 133, 72), arms="side")
    plate.axis((170, FLOOR - 2), (170, 10))
    return plate


def balance_eyes_closed() -> Plate:
    plate = Plate()
    plate.floor(90, 236)
    on_one_leg(plate, 166, 0, arms="crossed")
    plate.axis((166, FLOOR - 2), (166, 16))
    return plate


def stand_on_one_foot() -> Plate:
    plate = Plate()
    plate.floor(90, 236)
    on_one_leg(plate, 166, 0)
    plate.axis((166, FLOOR - 2), (166, 16))
    return plate


def knee_over_toes() -> Plate:
    plate = Plate()
    plate.floor(90, 234)
    posed = on_one_leg(plate, 166, 0, (40, 92, 56), short=0.87, arms="none")
    across_the_barre(plate, 84, 240, posed.shoulders)
    plate.axis(posed.leg.bones["C"].at(0.05), posed.leg.hip)
    plate.movement((208, 166), (208, 194))
    return plate


def airplane() -> Plate:
    plate = Plate()
    plate.floor(60, 300)
    leg = stand(166, 0, 24, 44)
    draw_leg(plate, hang(leg.hip, -88, 0, 78).with_hem((1.0, 0.2), (1.0, -0.2)), "far")
    far_shoulder = bone(leg.hip, 84, 53).at(0.89, -0.02)
    draw_arm(plate, far_shoulder, (leg.hip[0] + 62, leg.hip[1] + 34), kind="far")
    shoulder = draw_trunk(plate, leg, 84, head=-24)
    draw_leg(plate, leg)
    draw_arm(plate, shoulder, (shoulder[0] - 12, shoulder[1] + 50), 1)
    plate.movement((160, 42), (160, 72))
    return plate


def _in_the_air(plate: Plate, hip: Point, free: Leg | None = None) -> None:
    up = hang(hip, 0, 0, LONG)
    draw_leg(plate, up, "ghost")
    shoulder = draw_trunk(plate, up, 0, "ghost")
    if free:
        draw_leg(plate, free, "ghost")
    draw_arm(plate, shoulder, (shoulder[0] + 12, shoulder[1] + 51), 1, "ghost")


def small_jumps_held() -> Plate:
    plate = Plate()
    plate.floor(50, 280)
    _in_the_air(plate, (112, 102))
    from_side(plate, stand(214, 0, *LANDED), stand(220, 0, *LANDED), lean=5)
    plate.movement((136, 70), (160, 84), (172, 118))
    return plate


def _lands_on_one(plate: Plate) -> None:
    leg = stand(214, 0, *LANDED_ON_ONE)
    from_side(plate, leg, lean=5, free=hang(leg.hip, 58, 92, 50))


def jump_two_to_one() -> Plate:
    plate = Plate()
    plate.floor(50, 280)
    _in_the_air(plate, (112, 102))
    _lands_on_one(plate)
    plate.movement((136, 70), (160, 84), (172, 118))
    return plate


def one_leg_saute() -> Plate:
    plate = Plate()
    plate.floor(50, 280)
    _in_the_air(plate, (112, 108), hang((112, 108), *BY_THE_ANKLE))
    _lands_on_one(plate)
    plate.movement((136, 74), (160, 86), (172, 118))
    return plate


def knee_to_wall() -> Plate:
    plate = Plate()
    plate.floor(64, 262)
    plate.wall(262)
    leg = stand(212, 0, 34, 70)
    draw_leg(plate, meet(leg.hip, 126, 46).with_hem((1.05, 0.2), (1.0, -0.2)), "far")
    shoulder = draw_trunk(plate, leg, 10)
    draw_leg(plate, leg)
    draw_arm(plate, shoulder, (255, shoulder[1] + 10), 1, hand=-84)
    plate.movement((leg.knee[0] + 9, leg.knee[1]), (259, leg.knee[1]))
    return plate


def calf_stretch() -> Plate:
    plate = Plate()
    plate.floor(50, 262)
    plate.wall(262)
    back = stand(146, 0, 31, 3)
    draw_leg(plate, meet(back.hip, 226), "far")
    shoulder = draw_trunk(plate, back, 20)
    draw_leg(plate, back)
    draw_arm(plate, shoulder, (255, shoulder[1] + 2), 1, hand=-84)
    plate.movement((106, 160), (96, 178), (104, 200))
    return plate
