"""The table of drawn poses: a key, what it shows in words for the ear, and the hand that draws it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from progress.drawing.body import balances, faults, rises, seated
from progress.drawing.body.plate import Plate


@dataclass(frozen=True)
class Pose:
    """key: as rows name it. says: what is to be seen, in English, to be translated. draw: gives its plate anew.

    holds_barre: somebody in it has a hand on the barre. is_fault: a pair of clean and fault, for the form faults.
    """

    key: str
    says: str
    draw: Callable[[], Plate]
    holds_barre: bool = False
    is_fault: bool = False


POSES = {
    pose.key: pose
    for pose in (
        Pose("rise-two-feet", "From the side, fingertips on the barre: both heels high, and one foot shown large, "
             "its ankle over the toes.", rises.rises_parallel, True),
        Pose("rise-first", "From the front, hands on the barre: in first with the heels down, then at full height.",
             rises.rises_first, True),
        Pose("rise-small-second", "From the front, hands on the barre: in a small second with the heels down, then at "
             "full height.", rises.rises_small_second, True),
        Pose("releve-from-plie", "From the side, a hand on the barre: a plié with the heels down, then both legs "
             "straight at full height.", rises.releves_from_plie, True),
        Pose("up-two-down-one", "From the side, a hand on the barre: up on two feet, over on one, down on one.",
             rises.up_two_down_one, True),
        Pose("rise-one-foot", "From the side, fingertips on the barre: one heel high, the other foot at the ankle, and "
             "the risen foot shown large, its ankle over the toes.", rises.rises_one_foot, True),
        Pose("rise-one-foot-front", "From the front, hands on the barre: up on one foot, the ankle straight above the "
             "toes.", rises.rise_from_front, True),
        Pose("heel-press", "Two risen feet, heel to heel, pressing a small ball between them.", rises.heel_press),
        Pose("balance-two-feet", "From the side: both heels high, the hands just off the barre, the body in one line "
             "over the toes.", balances.balance_two_feet),
        Pose("balance-passe", "From the front: high on one foot, the other at the knee, the arms open, the body in one "
             "line over the toes.", balances.balance_passe),
        Pose("balance-flat", "From the front: flat on one foot with the arms crossed, the other foot at the ankle.",
             balances.balance_eyes_closed),
        Pose("rise-at-home", "From the side, fingertips on a worktop: both heels high, and one foot shown large, its "
             "ankle over the toes.", rises.rises_at_home, True),
        Pose("stand-on-one-foot", "From the front: flat on one foot, the other foot at the ankle, the arms easy.",
             balances.stand_on_one_foot),
        Pose("tendu", "From the side, a hand on the barre: one leg long in front; beside it the foot peels off heel, "
             "ball, toes.", rises.tendus, True),
        Pose("push-off", "From the side: the foot brushes off the floor while the standing heel goes high, the hand "
             "just off the barre.", rises.push_off_degages),
        Pose("forced-arch", "From the side, a hand on the barre: a plié, the heels lifted with bent knees, then "
             "straight at full height.", rises.forced_arch_rolls, True),
        Pose("short-foot", "One foot flat on the floor: the arch rises, the toes stay long.", seated.short_foot),
        Pose("toe-pick-up", "One foot picks up a small cloth with its toes.", seated.toe_pick_ups),
        Pose("toe-lift", "One foot flat on the floor: the big toe goes up, the others stay down.", seated.toe_lifts),
        Pose("band-shin", "A long leg with a band round the forefoot: the foot draws towards the shin.",
             seated.band_shin),
        Pose("band-big-toe", "A half pointed foot with a band round the big toe: the toe presses down.",
             seated.band_big_toe),
        Pose("band-outer-ankle", "Two feet from above with a band round both: one turns outwards.",
             seated.band_outer_ankle),
        Pose("band-inner-ankle", "One foot from above with a band from the outer side: it draws inwards.",
             seated.band_inner_ankle),
        Pose("seated-heel-raise", "Sitting on a chair, hands on the thighs: both heels go high, and one foot is shown "
             "large.", seated.seated_calf),
        Pose("one-leg-plie", "From the front, hands on the barre: a plié on one leg, the knee over the toes.",
             balances.knee_over_toes, True),
        Pose("jump-held", "From the side: a small jump with long feet, then a soft landing on two feet.",
             balances.small_jumps_held),
        Pose("jump-two-to-one", "From the side: a small jump with long feet, then a soft landing on one.",
             balances.jump_two_to_one),
        Pose("saute-one-leg", "From the side: a small jump from one leg, then a soft landing on it.",
             balances.one_leg_saute),
        Pose("turnout-lying", "Lying on the side with bent knees: the upper knee opens, the pelvis stays.",
             seated.turnout_lying),
        Pose("turnout-standing", "From the front: feet side by side, then both legs turned out from the hips.",
             rises.turnout_standing),
        Pose("calf-stretch", "Hands at a wall, one foot behind with its heel down: the calf is long.",
             balances.calf_stretch),
        Pose("airplane", "From the side: on one bent leg, the body and the other leg level.", balances.airplane),
        Pose("knee-to-wall", "From the side: the heel down, the knee forward to the wall.", balances.knee_to_wall),
        Pose("rise-height", "One risen foot beside a rule: the height of its heel.", seated.rise_height),
        Pose("point-line", "A long pointed foot: the line of shin and instep.", seated.point_line),
        Pose("fault-wobble", "Left: the ankle still. Right: it wavers to both sides.", faults.wobble, is_fault=True),
        Pose("fault-bent-knee", "Left: a straight knee. Right: a bent one.", faults.bent_knee, is_fault=True),
        Pose("fault-heel-low", "Left: the heel at full height. Right: too low.", faults.heel_low, is_fault=True),
        Pose("fault-rolls-out", "Left: the ankle over the toes. Right: it rolls out.", faults.rolls_out,
             is_fault=True),
        Pose("fault-rolls-in", "Left: the ankle over the toes. Right: it rolls in.", faults.rolls_in, is_fault=True),
        Pose("fault-toes-gripped", "Left: long toes. Right: gripped ones.", faults.toes_gripped, is_fault=True),
        Pose("fault-sickled", "Left: the foot in line with the shin. Right: turned inwards.", faults.sickled,
             is_fault=True),
        Pose("fault-hip-sinks", "Left: the hips level. Right: the free side sinks.", faults.hip_sinks, is_fault=True),
        Pose("fault-hip-lifts", "Left: the hips level. Right: the free side is pulled up.", faults.hip_lifts,
             is_fault=True),
        Pose("fault-knee-falls-in", "Left: the knee over the toes. Right: it falls in.", faults.knee_falls_in,
             is_fault=True),
        Pose("fault-heels-lift", "Left: a plié with the heels down. Right: they lift.", faults.heels_lift,
             is_fault=True),
        Pose("fault-weight-back", "Left: the body over the feet. Right: back on the heels.", faults.weight_back,
             is_fault=True),
        Pose("fault-foot-down", "Left: the free foot at the ankle. Right: it touches the floor.", faults.foot_down,
             is_fault=True),
        Pose("fault-arms", "Left: the arms crossed. Right: they open.", faults.arms_open, is_fault=True),
        Pose("fault-point-short", "Left: shin and instep in one line. Right: short of it.", faults.point_short,
             is_fault=True),
        Pose("fault-steps-out", "Left: the foot stays. Right: it moves.", faults.steps_out, is_fault=True),
    )
}
EXERCISE_POSES = tuple(pose for pose in POSES.values() if not pose.is_fault)

# The words of faults, as the catalogue has them, and the pair that shows each. Movements in time have none: no still
# picture shows a bounce, a held breath or a tired foot.
FAULTS = {
    "wobble": "wobble", "sways": "wobble", "bent knee": "bent-knee", "not full height": "heel-low",
    "heel missed": "heel-low", "heel dropped": "heel-low", "sinks": "heel-low", "rolls out": "rolls-out",
    "rolls in": "rolls-in", "arch falls": "rolls-in", "foot tips in": "rolls-in", "ankle turns in": "rolls-in",
    "gripped": "toes-gripped", "toes gripped": "toes-gripped", "toes curled": "toes-gripped",
    "toes clawed": "toes-gripped", "sickled": "sickled", "hip sinks": "hip-sinks", "hip lifts": "hip-lifts",
    "knee falls in": "knee-falls-in", "knees fall in": "knee-falls-in", "heel lifts": "heels-lift",
    "heels up": "heels-lift", "heels lift in plié": "heels-lift", "weight back": "weight-back",
    "foot down": "foot-down", "arms": "arms", "steps out": "steps-out", "shifted": "steps-out", "hop": "steps-out",
}


def pose_of_fault(words: str) -> str:
    """The key of the pair that shows a fault, or "" where none does.

    >>> pose_of_fault("Rolls out"), pose_of_fault("tired")
    ('fault-rolls-out', '')
    """
    pair = FAULTS.get(words.strip().lower())
    return f"fault-{pair}" if pair else ""


@cache
def drawing(key: str, size: str = "large", label: str = "") -> str:
    """The pose as ``<svg>`` at "large", "medium" or "small", "" for a key that is not drawn."""
    pose = POSES.get(key)
    return pose.draw().svg(size, label) if pose else ""


@cache
def fault_alone(key: str) -> str:
    """The right one of a pair by itself, small; "" for a key that is no drawn fault."""
    pose = POSES.get(key)
    return pose.draw().right_half() if pose and pose.is_fault else ""
