"""Puts limbs, trunks and heads on a plate: skin, the cloth over it, and the joints where they meet."""

from __future__ import annotations

from collections.abc import Sequence

from progress.drawing.body.build import (
    ARM,
    FOOT_ABOVE,
    FOREARM,
    HAIR_FRONT,
    HAIR_SIDE,
    HAND,
    HEAD,
    HEAD_FRONT,
    HEAD_SIDE,
    SLEEVE,
    TRUNK,
    TRUNK_FRONT,
    TRUNK_SIDE,
    UPPER_ARM,
    Control,
    placed,
)
from progress.drawing.body.build import FOOT as FOOT_LENGTH
from progress.drawing.body.geometry import Bone, Point, angle_of, between, bone, joint_between
from progress.drawing.body.legs import FRONT, Leg
from progress.drawing.body.paths import curve
from progress.drawing.body.plate import Arm, Plate

# Skin ends under the cloth, this far up the thigh.
UNDER_CLOTH = 0.62
# A hip bent further than this has a crease in front and no fold behind.
CREASED = 18
_CLOTH = {"skin": "cloth", "far": "farcloth"}


def draw_leg(plate: Plate, leg: Leg, kind: str = "skin") -> None:
    """A whole leg, with its cloth unless it is a ghost."""
    plate.legs.append((kind, leg))
    dressed = kind in _CLOTH
    skin = [each for each in leg.controls if not dressed or each.first.bone != "T" or each.first.share < UNDER_CLOTH]
    plate.add(kind, curve(placed(leg.bones, skin)))
    if not dressed:
        return
    thigh, (before, behind) = leg.bones["T"], leg.hem
    high = curve([thigh.at(*before), thigh.at(0.7, before[1] + 0.008), thigh.at(0.5, before[1])])
    low = curve([
        thigh.at(0.5, behind[1] + 0.005), thigh.at(0.62, behind[1] - 0.008), thigh.at(*behind), *leg.crotch,
    ])
    plate.add(_CLOTH[kind], high + "L" + low[1:])


def draw_foot(plate: Plate, leg: Leg, cut: float, kind: str = "skin") -> None:
    """What lies below `cut` of the shank: a foot shown large."""
    plate.legs.append((kind, leg))

    def shown(control: Control) -> bool:
        return control.first.bone in "FPDBC" or (control.first.bone == "S" and control.first.share <= cut)

    plate.add(kind, curve(placed(leg.bones, filter(shown, leg.controls))))
    if leg.view == FRONT and kind == "skin":
        plate.add("fold", _toes_and_ankles(leg))


def _toes_and_ankles(leg: Leg) -> str:
    """The gaps between the toes, run out over the instep, and the two ankle bones of a foot from the front."""
    toes, column = leg.bones["B"], leg.bones["C"]
    gaps = "".join(
        curve([toes.at(0.06, aside), column.at(high, aside * 0.9)])
        for aside, high in ((-0.08, 0.2), (-0.003, 0.19), (0.073, 0.17), (0.155, 0.13))
    )
    inner = curve([column.at(0.98, -0.085), column.at(0.9, -0.075), column.at(0.85, -0.1)])
    outer = curve([column.at(0.9, 0.09), column.at(0.82, 0.075), column.at(0.78, 0.09)])
    return gaps + inner + outer


def foot_above(
    plate: Plate, ankle: Point, angle: float, kind: str = "skin", *, scale: float = 3.2, facing: int = 1
) -> Bone:
    """A foot looked down at, turned outwards by `angle` about its ankle, the shank coming from below."""
    foot = bone(ankle, angle, FOOT_LENGTH * scale, facing=facing)
    shank = bone(ankle, 0.0, FOOT_LENGTH * scale, facing=facing)
    plate.add(kind, curve([(shank if share < -0.05 else foot).at(share, aside) for share, aside in FOOT_ABOVE]))
    return foot


def draw_arm(
    plate: Plate, shoulder: Point, wrist: Point, side: int = -1, kind: str = "skin", *, scale: float = 1.0,
    hand: float = 0.0, palm_at: float | None = None, short: float = 1.0, has_sleeve: bool = True,
) -> Arm:
    """An arm from the shoulder to the wrist, its elbow to that `side`.

    `hand` turns the hand against the forearm; `palm_at` lays it at an angle of the picture instead. `short`: how much
    of the arm's length is seen where it comes towards the eye.
    """
    elbow = joint_between(shoulder, wrist, UPPER_ARM * scale * short, FOREARM * scale * short, side)
    upper = between(shoulder, elbow, UPPER_ARM * scale)
    fore = bone(elbow, angle_of(elbow, wrist), FOREARM * scale * short, FOREARM * scale)
    way = angle_of(elbow, wrist) + hand if palm_at is None else palm_at
    palm = bone(fore.at(1), way, HAND * scale * short, HAND * scale)
    plate.add(kind, curve(placed({"U": upper, "A": fore, "W": palm}, ARM)))
    if has_sleeve and kind in _CLOTH:
        plate.add(_CLOTH[kind], curve([upper.at(*each) for each in SLEEVE], closed=True))
    arm = Arm(shoulder, elbow, fore.at(1), palm.at(1), scale, short)
    plate.arms.append(arm)
    return arm


def draw_trunk(plate: Plate, leg: Leg, lean: float = 0.0, kind: str = "cloth", head: float = 0.0) -> Point:
    """Trunk, neck and head from the side, on the near leg; gives the shoulder."""
    facing = leg.facing
    back, thigh = bone(leg.hip, lean, TRUNK, facing=facing), leg.bones["T"]
    is_creased = lean - leg.lean + leg.bend > CREASED
    ring = TRUNK_SIDE[2:-2] if is_creased else TRUNK_SIDE
    plate.add(kind, curve([thigh.at(*leg.hem[0]), *(back.at(*each) for each in ring), thigh.at(*leg.hem[1])]))
    _head(plate, bone(back.at(1.1), lean + head, HEAD, facing=facing), kind, HEAD_SIDE, HAIR_SIDE)
    return back.at(0.89, -0.02)


def trunk_from_front(
    plate: Plate, hips: Point, lean: float = 0.0, tilt: float = 0.0, *, hem: Sequence[Point] = (),
    scale: float = 1.0,
) -> tuple[Point, Point]:
    """Trunk and head from the front on the middle of the hips; gives the shoulder left and right in the picture.

    `hem`: the right half's points below the waist where the legs are turned out, lowest first.
    """
    back, pelvis = bone(hips, lean, TRUNK * scale), bone(hips, lean + tilt, TRUNK * scale)
    half = TRUNK_FRONT[2 if hem else 0:]
    ring = [(share, -aside) for share, aside in half] + list(half[::-1][1:])
    points = [(pelvis if share < 0.2 else back).at(share, aside) for share, aside in ring]
    left = [(2 * hips[0] - x, y) for x, y in hem]
    plate.add("cloth", curve([*left, *points, *reversed(hem)]))
    head = [(share, -aside) for share, aside in HEAD_FRONT] + list(HEAD_FRONT[::-1][1:])
    _head(plate, bone(back.at(1.07), lean, HEAD * scale), "cloth", head, HAIR_FRONT)
    return back.at(0.88, -0.245), back.at(0.88, 0.245)


def _head(
    plate: Plate, skull: Bone, kind: str, ring: Sequence[tuple[float, float]], hair: Sequence[tuple[float, float]]
) -> None:
    plate.add("ghost" if kind == "ghost" else "skin", curve([skull.at(*each) for each in ring]))
    if kind != "ghost":
        plate.heads += 1
        plate.add("cloth", curve([skull.at(*each) for each in hair]))
