"""Poses on a chair, on the floor and with a band, and the tests that look at one foot; each gives a `Plate`."""

from __future__ import annotations

from dataclasses import replace

from progress.drawing.body.build import FLOOR, FOOT, FULL, Control
from progress.drawing.body.figures import large_foot
from progress.drawing.body.geometry import Point
from progress.drawing.body.legs import Leg, grounded, laid, stand
from progress.drawing.body.limbs import draw_arm, draw_foot, draw_leg, draw_trunk, foot_above, trunk_from_front
from progress.drawing.body.paths import curve, line
from progress.drawing.body.plate import Plate

# How the arch of a shortened foot rises: the share along the foot, and by how much its points move along and across.
DOME = {
    -0.45: (0, 0.02), -0.32: (-0.01, 0.06), -0.27: (0, 0.02), -0.16: (-0.045, 0.035), -0.15: (-0.02, 0.035),
    -0.05: (-0.045, 0.0), -0.04: (-0.045, 0.02), 0.02: (-0.045, 0.0),
}


def short_foot() -> Plate:
    plate = Plate()
    plate.floor(40, 280)
    scale = 5.2
    flat = stand(218, scale=scale)
    back = (-0.045 * FOOT * scale, 0.0)
    bones = {**flat.bones, "P": flat.bones["P"].moved(back), "D": flat.bones["D"].moved(back)}
    domed = replace(flat, bones=bones, controls=tuple(_domed(each) for each in flat.controls))
    draw_foot(plate, flat, 0.4, "ghost")
    draw_foot(plate, domed, 0.4)
    plate.movement((178, 206), (178, 184))
    return plate


def _domed(control: Control) -> Control:
    hold = control.first
    if hold.bone != "F" or hold.share not in DOME:
        return control
    along, across = DOME[hold.share]
    return control._replace(first=hold._replace(share=hold.share + along, aside=hold.aside + across))


def toe_pick_ups() -> Plate:
    plate = Plate()
    plate.floor(40, 290)
    leg = grounded(196, -20, -2, toe=24, curl=60, scale=4.2)
    x, y = leg.bones["D"].at(0.09, -0.05)
    low = FLOOR
    plate.add("ball", curve([
        (x - 8, y - 6), (x - 16, y + 8), (x - 26, y + 20), (x - 44, low - 2), (x - 30, low), (x - 14, low - 7),
        (x + 2, low), (x + 22, low - 6), (x + 40, low), (x + 46, low - 4), (x + 24, y + 18), (x + 12, y + 4),
        (x + 6, y - 6),
    ], closed=True))
    plate.add("fold", curve([(x - 2, y + 6), (x - 8, y + 18), (x - 14, low - 6)]))
    plate.add("fold", curve([(x + 5, y + 6), (x + 10, y + 18), (x + 18, low - 6)]))
    draw_foot(plate, leg, 0.45)
    plate.movement((282, 186), (288, 162), (280, 136))
    return plate


def toe_lifts() -> Plate:
    """The far toes stay down, the big toe, which is near, goes up."""
    plate = Plate()
    plate.floor(40, 290)
    draw_foot(plate, stand(210, scale=4.6), 0.45, "far")
    draw_foot(plate, stand(210, toe=-38, scale=4.6), 0.45)
    plate.movement((272, 196), (276, 178), (268, 160))
    return plate


def band_big_toe() -> Plate:
    plate = Plate()
    plate.floor(20, 300)
    up = grounded(208, -40, -70, toe=-70, scale=3.4)
    down = grounded(208, -40, -70, toe=-30, scale=3.4)
    toe = down.bones["D"]
    draw_foot(plate, up, 0.75, "ghost")
    plate.strap(toe.at(0.05), (190, 62), (96, 46))
    draw_foot(plate, down, 0.75)
    plate.strap(toe.at(0.05, 0.06), toe.at(0.05, -0.085))
    draw_arm(plate, (18, 12), (84, 42), 1, scale=1.6, has_sleeve=False)
    plate.movement((264, 92), (276, 106), (276, 128))
    return plate


def band_shin() -> Plate:
    plate = Plate()
    plate.floor(20, 300)
    near = grounded(180, -96, -86, toe=-90, scale=3.0)
    away = grounded(180, -56, -86, toe=-50, scale=3.0)
    away = grounded(180 + near.ankle[0] - away.ankle[0], -56, -86, toe=-50, scale=3.0)
    plate.post(292, 90)
    draw_foot(plate, away, 0.85, "ghost")
    under, over = near.bones["F"].at(-0.08, -0.09), near.bones["F"].at(-0.08, 0.13)
    draw_foot(plate, near, 0.85)
    plate.strap((290, under[1] + 22), under, over)
    plate.movement((236, 78), (214, 62), (182, 66))
    return plate


def band_outer_ankle() -> Plate:
    plate = Plate()
    still = foot_above(plate, (120, 150), 2, facing=-1)
    foot_above(plate, (200, 150), 2, "ghost")
    turned = foot_above(plate, (200, 150), 24)
    plate.strap(still.at(0.45, 0.24), still.at(0.46), turned.at(0.46), turned.at(0.45, 0.235))
    plate.movement((232, 62), (262, 66), (276, 88))
    return plate


def band_inner_ankle() -> Plate:
    plate = Plate()
    foot_above(plate, (140, 150), 14, "ghost")
    turned = foot_above(plate, (140, 150), -12)
    plate.post(286, 20, 130)
    plate.strap(turned.at(0.45, -0.2), turned.at(0.45, 0.1), turned.at(0.44, 0.24), (284, 78))
    plate.movement((160, 34), (132, 28), (106, 40))
    return plate


def seated_calf() -> Plate:
    plate = Plate()
    plate.floor(40, 160)
    plate.floor(180, 306)
    leg = _on_a_chair(plate, FULL - 8, 118)
    shoulder = draw_trunk(plate, leg)
    draw_leg(plate, leg)
    draw_arm(plate, shoulder, (leg.knee[0] - 16, leg.knee[1] - 8), 1)
    large_foot(plate, 240, 2.9, FULL - 6, lean=-3)
    plate.movement((196, 202), (190, 184), (196, 156))
    return plate


def _on_a_chair(plate: Plate, heel: float, x: float) -> Leg:
    """Draws the chair and the far leg; gives the near one, its shank upright."""
    near, far = (stand(at, heel, 0, 90).with_hem((0.8, 0.22), (0.74, -0.23)) for at in (x, x + 6))
    left, seat = near.hip[0], near.hip[1] + 12
    plate.add("prop", line((left - 18, seat), (left + 26, seat)))
    plate.add("prop", line((left - 14, seat), (left - 14, FLOOR)) + line((left + 22, seat), (left + 22, FLOOR)))
    draw_leg(plate, far, "far")
    return near


def turnout_lying() -> Plate:
    """On the side, seen from the front: the thighs come towards the eye, so the legs look short."""
    plate = Plate()
    plate.floor(20, 306)
    scale = 1.38

    def at(dx: float, dy: float) -> Point:
        return (176 + dx * scale, FLOOR - 2 + dy * scale)

    hem = ((1.1, 0.2), (1.1, -0.2))
    low = laid(at(0, -9), at(31, -8), at(61, -7), -8, scale=scale).with_hem(*hem)
    shut = laid(at(0, -25), at(32, -20), at(62, -17), -8, scale=scale).with_hem(*hem)
    opened = laid(at(0, -25), at(31, -43), at(61, -17), -6, scale=scale).with_hem(*hem)
    draw_leg(plate, low)
    draw_arm(plate, at(-44, -7), at(-98, -4), 1, scale=scale, has_sleeve=False)
    shoulders = trunk_from_front(plate, at(2, -17), -90, scale=scale)
    draw_leg(plate, shut, "ghost")
    draw_leg(plate, opened)
    draw_arm(plate, min(shoulders, key=lambda each: each[1]), at(-14, -6), 1, scale=scale * 0.9)
    plate.movement(at(52, -34), at(50, -48), at(40, -56))
    return plate


def rise_height() -> Plate:
    plate = Plate()
    plate.floor(40, 280)
    draw_foot(plate, stand(190, scale=4), 0.3, "ghost")
    leg = stand(190, FULL, scale=4)
    draw_foot(plate, leg, 0.4)
    rungs = [(FLOOR - 12 * each, 96 if each == 5 else 90) for each in range(1, 10)]
    plate.add("prop", line((80, FLOOR), (80, 100)) + "".join(line((80, y), (x, y)) for y, x in rungs))
    x, y = leg.bones["F"].at(-0.73, -0.05)
    plate.axis((80, y), (x - 4, y))
    return plate


def point_line() -> Plate:
    plate = Plate()
    plate.floor(40, 280)
    leg = grounded(226, -2, -80, toe=4, scale=3.1)
    draw_foot(plate, leg, 0.9)
    plate.axis(leg.bones["S"].at(0.9, 0.08), leg.bones["D"].at(0.16, 0.02))
    return plate


