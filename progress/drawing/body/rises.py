"""Poses of rises, relevés and work through the standing foot; each gives a `Plate`."""

from __future__ import annotations

from progress.drawing.body.build import FULL
from progress.drawing.body.figures import (
    BARRE_Y,
    BY_THE_ANKLE,
    HALF_HIPS,
    across_the_barre,
    at_a_counter,
    at_the_barre,
    beside_the_barre,
    large_foot,
    on_one_leg,
    turned_out,
)
from progress.drawing.body.legs import front_leg, grounded, hang, stand
from progress.drawing.body.limbs import draw_arm, draw_foot, draw_leg, trunk_from_front
from progress.drawing.body.plate import Plate

PLIE = (30, 62)


def rises_parallel() -> Plate:
    plate = Plate()
    plate.floor(14, 128)
    plate.floor(150, 306)
    at_the_barre(plate, 108, stand(58, FULL), stand(64, FULL))
    large_foot(plate, 222, 3.1)
    plate.movement((176, 200), (170, 180), (176, 150))
    return plate


def rises_at_home() -> Plate:
    plate = Plate()
    plate.floor(14, 142)
    plate.floor(160, 312)
    at_a_counter(plate, 100, stand(58, FULL), stand(64, FULL))
    large_foot(plate, 230, 3.1)
    plate.movement((184, 200), (178, 180), (184, 150))
    return plate


def rises_one_foot() -> Plate:
    plate = Plate()
    plate.floor(14, 128)
    plate.floor(150, 306)
    leg = stand(60, FULL)
    at_the_barre(plate, 108, leg, free=hang(leg.hip, *BY_THE_ANKLE))
    large_foot(plate, 222, 3.1)
    plate.movement((176, 200), (170, 180), (176, 150))
    return plate


def rise_from_front() -> Plate:
    """The one-foot rise as the teacher sees it who stands before it."""
    plate = Plate()
    plate.floor(30, 150)
    plate.floor(186, 300)
    posed = on_one_leg(plate, 106, FULL, arms="none")
    across_the_barre(plate, 34, 166, posed.shoulders)
    draw_foot(plate, front_leg(244, FULL, scale=3.1), 0.45)
    plate.movement((290, 196), (290, 150))
    return plate


def rises_first() -> Plate:
    return _rises_turned_out(gap=4.0, high_gap=7.5, lean=2.0, high_lean=0.5)


def rises_small_second() -> Plate:
    return _rises_turned_out(gap=16, high_gap=17, lean=-5.5, high_lean=-6)


def _rises_turned_out(*, gap: float, high_gap: float, lean: float, high_lean: float) -> Plate:
    plate = Plate()
    plate.floor(16, 304)
    low = turned_out(plate, 88, 0, gap=gap, lean=lean, arms="none")
    high = turned_out(plate, 232, FULL, gap=high_gap, lean=high_lean, arms="none")
    across_the_barre(plate, 16, 304, low, high)
    plate.movement((138, 172), (160, 150), (184, 142))
    return plate


def releves_from_plie() -> Plate:
    plate = Plate()
    plate.floor(24, 296)
    plate.long_barre(24, 296, BARRE_Y, (34, 286))
    beside_the_barre(plate, stand(84, 0, *PLIE), stand(90, 0, *PLIE), lean=4)
    beside_the_barre(plate, stand(222, FULL), stand(228, FULL))
    plate.movement((132, 172), (156, 150), (182, 142))
    return plate


def up_two_down_one() -> Plate:
    plate = Plate()
    plate.floor(14, 306)
    plate.long_barre(14, 306, BARRE_Y, (22, 298))
    beside_the_barre(plate, stand(54, FULL), stand(60, FULL))
    high, low = stand(154, FULL), stand(254)
    beside_the_barre(plate, high, free=hang(high.hip, *BY_THE_ANKLE))
    beside_the_barre(plate, low, free=hang(low.hip, *BY_THE_ANKLE))
    plate.movement((192, 142), (210, 148), (218, 172))
    return plate


def heel_press() -> Plate:
    plate = Plate()
    plate.floor(40, 280)
    for facing in (-1, 1):
        draw_foot(plate, stand(160 + facing * 40, FULL, scale=3.1, facing=facing, squeeze=0.8), 0.62)
    plate.dot((160, 161), 14)
    plate.movement((70, 158), (94, 158))
    plate.movement((250, 158), (226, 158))
    return plate


def forced_arch_rolls() -> Plate:
    plate = Plate()
    plate.floor(14, 306)
    plate.long_barre(14, 306, BARRE_Y, (22, 298))
    for x, heel, lean, bend, tip in ((52, 0, *PLIE, 4), (154, FULL - 7, 27, 60, 3), (254, FULL, 0, 0, 0)):
        beside_the_barre(plate, stand(x, heel, lean, bend), lean=tip, reach=25 if bend else 22)
    plate.movement((92, 172), (112, 156), (130, 150))
    return plate


def tendus() -> Plate:
    plate = Plate()
    plate.floor(6, 124)
    plate.floor(138, 314)
    plate.long_barre(6, 112, BARRE_Y, (14, 104))
    leg = stand(50)
    beside_the_barre(plate, leg, free=hang(leg.hip, 32, 0, 78))
    for x, heel, lean, toe in ((176, 40, -14, 0), (229, 52, -22, 26), (279, 50, -30, 54)):
        draw_foot(plate, grounded(x, heel, lean, toe=toe, scale=1.9), 0.7)
    plate.movement((160, 96), (240, 96))
    return plate


def push_off_degages() -> Plate:
    plate = Plate()
    plate.floor(60, 270)
    plate.long_barre(60, 270, BARRE_Y, (70, 260))
    low, leg = stand(140), stand(140, FULL)
    draw_leg(plate, hang(low.hip, 32, 0, 78), "ghost")
    beside_the_barre(plate, leg, free=hang(leg.hip, 46, 0, 80), lifted=12, reach=26)
    plate.movement((222, 214), (240, 204), (246, 184))
    return plate


def turnout_standing() -> Plate:
    plate = Plate()
    plate.floor(20, 300)
    legs = [front_leg(90 + side * HALF_HIPS, facing=side) for side in (-1, 1)]
    shoulders = trunk_from_front(plate, (90, legs[0].hip[1]))
    for leg in legs:
        draw_leg(plate, leg)
    for (x, y), side in zip(shoulders, (-1, 1), strict=True):
        draw_arm(plate, (x, y), (x + side * 5, y + 46), -side, hand=side * 20)
    turned_out(plate, 230, 0)
    plate.movement((140, 140), (160, 130), (182, 140))
    return plate
