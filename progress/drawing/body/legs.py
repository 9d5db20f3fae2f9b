"""Legs from the side and from the front, built from the floor upwards or from the hip downwards; angles in degrees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import cos, radians, sin

from progress.drawing.body.build import ANKLE, FLOOR, FOOT, LEG_FRONT, LEG_SIDE, SHANK, SOLE, THIGH, Control, placed
from progress.drawing.body.geometry import Bone, Point, angle_of, between, bone, joint_between, middle

SIDE, FRONT = "side", "front"
# Where the trouser leg ends at the hip, before and behind: (share, aside) of the thigh.
HEM_SIDE, HEM_FRONT = ((0.88, 0.23), (0.74, -0.23)), ((0.92, 0.215), (0.86, -0.185))
# Past this bend the skin of the hollow of the knee is folded away.
DEEP = 75


@dataclass(frozen=True)
class Leg:
    """A leg with its joints. `heel` is the pitch of the sole, `lean` of the shank, `bend` the knee's (0 straight).

    `foreshortened`: it comes towards the eye and looks shorter than it is. `hem`: the two ends of its cloth, and
    `crotch`, the points on which the cloth of a free leg runs on to the other.
    """

    bones: Mapping[str, Bone]
    controls: tuple[Control, ...]
    ball: Point
    ankle: Point
    knee: Point
    hip: Point
    heel: float = 0.0
    lean: float = 0.0
    bend: float = 0.0
    scale: float = 1.0
    facing: int = 1
    view: str = SIDE
    foreshortened: bool = False
    hem: tuple[tuple[float, float], tuple[float, float]] = HEM_SIDE
    crotch: Sequence[Point] = field(default=())

    def with_hem(self, before: tuple[float, float], behind: tuple[float, float], crotch: Sequence[Point] = ()) -> Leg:
        return replace(self, hem=(before, behind), crotch=tuple(crotch))

    def lowest(self) -> float:
        """How far down the foot reaches, px."""
        points = placed(self.bones, [each for each in self.controls if each.first.bone in "FPDBC"])
        return max(middle(one, other)[1] for one, other in pairwise(points))


def _forward(start: Point, pitch: float, scale: float, facing: int, squeeze: float) -> Bone:
    """A bone of the foot: it points forward, so its front side is above."""
    lying = bone(start, pitch + 90, FOOT * scale, facing=facing)
    return Bone(start, (lying.along[0] * squeeze, lying.along[1]), (-lying.across[0] * squeeze, -lying.across[1]))


def _side(
    ball: Point, ankle: Point, heel: float, lean: float, bend: float, *, toe: float = 0.0, curl: float = 0.0,
    scale: float = 1.0, facing: int = 1, squeeze: float = 1.0,
) -> Leg:
    shank = bone(ankle, lean, SHANK * scale, facing=facing)
    thigh = bone(shank.at(1), lean - bend, THIGH * scale, facing=facing)
    near = _forward(ball, toe, scale, facing, squeeze)
    bones = {
        "T": thigh, "S": shank, "F": _forward(ball, heel, scale, facing, squeeze), "P": near,
        "D": _forward(near.at(0.145), toe + curl, scale, facing, squeeze),
    }
    return Leg(
        bones, _bent(bend), ball, ankle, shank.at(1), thigh.at(1), heel, lean, bend, scale, facing,
    )


def _bent(bend: float) -> tuple[Control, ...]:
    """The outline without the points that a deep bend folds away, and with a flatter calf."""
    if bend <= DEEP:
        return LEG_SIDE
    folded = {("S", 0.9), ("S", 0.78), ("T", 0.14), ("T", 0.38)}
    kept = []
    for control in LEG_SIDE:
        where = control.first[:2]
        if control.first.aside < 0 and not control.is_joint and where in folded:
            continue
        flat = where in {("S", 0.64), ("S", 0.5)} and control.first.aside < 0
        kept.append(Control(control.first._replace(aside=control.first.aside * 0.75)) if flat else control)
    return tuple(kept)


def stand(
    x: float, heel: float = 0.0, lean: float = 0.0, bend: float = 0.0, *, floor: float = FLOOR, scale: float = 1.0,
    facing: int = 1, squeeze: float = 1.0, toe: float = 0.0, curl: float = 0.0,
) -> Leg:
    """A leg that carries weight, upwards from the ball of its foot at `x` on the floor.

    `toe` is the pitch of the toes (0 flat), `curl` of their outer bones on top; `squeeze` narrows a turned-out foot.
    """
    ball = (x, floor - SOLE * FOOT * scale)
    foot = _forward(ball, heel, scale, facing, squeeze)
    return _side(
        ball, foot.at(*ANKLE), heel, lean, bend, toe=toe, curl=curl, scale=scale, facing=facing, squeeze=squeeze
    )


def grounded(x: float, heel: float = 0.0, lean: float = 0.0, bend: float = 0.0, **more: float) -> Leg:
    """As `stand`, but with its lowest point on the floor: for a foot whose ball has left it."""
    floor = more.pop("floor", FLOOR)
    low = stand(x, heel, lean, bend, floor=floor, **more).lowest()
    return stand(x, heel, lean, bend, floor=2 * floor - low, **more)


def meet(hip: Point, x: float, heel: float = 0.0, *, toe: float = 0.0, facing: int = 1) -> Leg:
    """A leg that carries weight between the floor at `x` and a given hip; the knee follows, forward."""
    ankle = stand(x, heel, facing=facing).ankle
    knee = joint_between(ankle, hip, SHANK, THIGH, facing)
    lean = facing * angle_of(ankle, knee)
    return stand(x, heel, lean, lean - facing * angle_of(knee, hip), toe=toe, facing=facing)


def hang(
    hip: Point, thigh: float = 0.0, bend: float = 0.0, point: float = 0.0, *, toe: float = 0.0, curl: float = 0.0,
    facing: int = 1,
) -> Leg:
    """A leg downwards from the hip: `thigh` + forward, `point` of the ankle (0 at right angles), `toe` + up."""
    lean = bend - thigh
    knee = bone(hip, 180 - thigh, THIGH, facing=facing).at(1)
    ankle = bone(knee, 180 + lean, SHANK, facing=facing).at(1)
    heel = lean + point
    dx, dy = _forward((0, 0), heel, 1.0, facing, 1.0).at(*ANKLE)
    return _side(
        (ankle[0] - dx, ankle[1] - dy), ankle, heel, lean, bend, toe=heel - toe, curl=curl, facing=facing
    )


def laid(hip: Point, knee: Point, ankle: Point, heel: float, *, scale: float = 1.0, facing: int = 1) -> Leg:
    """A leg through three joints as the eye sees them, for one that comes towards it."""
    dx, dy = _forward((0, 0), heel, scale, facing, 1.0).at(*ANKLE)
    leg = _side((ankle[0] - dx, ankle[1] - dy), ankle, heel, 0, 0, toe=heel, scale=scale, facing=facing)
    shank, thigh = between(ankle, knee, SHANK * scale), between(knee, hip, THIGH * scale)
    bones = {**leg.bones, "S": shank, "T": thigh}
    return replace(leg, bones=bones, knee=knee, hip=hip, foreshortened=True)


def front_leg(
    x: float, heel: float = 0.0, *, tip: float = 0.0, lean: float = 0.0, thigh: float = 0.0, scale: float = 1.0,
    facing: int = 1, short: float = 1.0, floor: float = FLOOR,
) -> Leg:
    """A leg from the front with its foot on the floor at `x`.

    `tip` of the foot, `lean` of the shank and `thigh`: + outwards. `facing` 1 has its outer side right in the picture.
    `short`: how much of the bones is seen where the knee bends towards the eye.
    """
    high = (SOLE - ANKLE[0] * sin(radians(heel)) + ANKLE[1] * cos(radians(heel))) * FOOT * scale
    column = bone((x, floor), tip, high, FOOT * scale, facing)
    toes = bone((x, floor), tip * 0.4, high, FOOT * scale, facing)
    sole = [each.first for each in LEG_FRONT if each.first.bone == "B"]
    drawn = [middle(toes.at(*one[1:]), toes.at(*other[1:]))[1] for one, other in pairwise(sole)]
    up = (0.0, floor - max(drawn))
    column, toes = column.moved(up), toes.moved(up)
    shank = bone(column.at(1), lean, SHANK * scale * short, SHANK * scale, facing)
    upper = bone(shank.at(1), thigh, THIGH * scale * short, THIGH * scale, facing)
    return Leg(
        {"B": toes, "C": column, "S": shank, "T": upper}, LEG_FRONT, column.start, column.at(1), shank.at(1),
        upper.at(1), heel, lean, 0.0, scale, facing, FRONT, short != 1.0, HEM_FRONT,
    )
