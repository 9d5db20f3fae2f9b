"""The rules of anatomy that every drawn body keeps, and what its drawing may hold. Figures from memory, by eye."""
import re
from math import atan2, degrees

import pytest

from progress.drawing.body.build import FLOOR, FOOT, FOREARM, FULL, HEIGHT, SHANK, THIGH, UPPER_ARM, WIDTH
from progress.drawing.body.geometry import apart
from progress.drawing.body.legs import SIDE
from progress.drawing.body.paths import GRAIN
from progress.drawing.body.poses import EXERCISE_POSES, FAULTS, POSES, drawing, fault_alone, pose_of_fault

PLATES = {key: pose.draw() for key, pose in POSES.items()}
every_pose = pytest.mark.parametrize("key", POSES)
# What rises in them is risen in full. A forced arch is on its way, a heel too low is the fault.
RISES = (
    "rise-two-feet", "rise-first", "rise-small-second", "releve-from-plie", "up-two-down-one", "rise-one-foot",
    "rise-one-foot-front", "rise-at-home", "heel-press", "balance-two-feet", "balance-passe",
    "push-off", "forced-arch", "rise-height",
    "fault-wobble", "fault-bent-knee", "fault-heel-low", "fault-rolls-out", "fault-rolls-in",
)
BALANCES = (
    "balance-two-feet", "balance-passe", "balance-flat", "stand-on-one-foot", "rise-one-foot", "rise-one-foot-front",
)
# Limbs that the frame cuts.
CUT = ("band-big-toe", "band-outer-ankle", "band-inner-ankle")


# The width of the floor's line, px, within which a sole lies on it.
LINE = 1.2


def stands(leg):
    return abs(leg.lowest() - FLOOR) <= LINE * leg.scale


def legs_of(key, *, view=None):
    return [leg for _kind, leg in PLATES[key].legs if view in (None, leg.view)]


@every_pose
def test_a_knee_bends_forward_only_and_no_further_than_knees_do(key):
    for leg in legs_of(key, view=SIDE):
        assert -0.01 <= leg.bend <= 135
        if leg.bend > 1 and not leg.foreshortened:
            (hx, hy), (kx, ky), (ax, ay) = leg.hip, leg.knee, leg.ankle
            in_front = (ax - hx) * (ky - hy) - (ay - hy) * (kx - hx)
            assert leg.facing * in_front < 0, "the knee lies behind the line from hip to ankle"


@every_pose
def test_a_shank_and_a_thigh_have_one_length_and_one_that_comes_towards_the_eye_is_never_longer(key):
    for leg in legs_of(key):
        for seen, length in ((apart(leg.ankle, leg.knee), SHANK), (apart(leg.knee, leg.hip), THIGH)):
            if leg.foreshortened:
                assert seen <= 1.02 * length * leg.scale
            else:
                assert seen == pytest.approx(length * leg.scale, abs=0.1)


@every_pose
def test_an_arm_keeps_its_lengths(key):
    for arm in PLATES[key].arms:
        assert arm.short <= 1
        assert apart(arm.shoulder, arm.elbow) == pytest.approx(UPPER_ARM * arm.scale * arm.short, rel=0.01)
        assert apart(arm.elbow, arm.wrist) == pytest.approx(FOREARM * arm.scale * arm.short, rel=0.01)


@every_pose
def test_an_ankle_bends_and_points_no_further_than_ankles_do(key):
    for leg in legs_of(key, view=SIDE):
        if not leg.foreshortened:
            assert -40 <= leg.heel - leg.lean <= 95


@pytest.mark.parametrize("key", RISES)
def test_a_rise_is_full(key):
    assert any(leg.heel == FULL for leg in legs_of(key))


@every_pose
def test_at_full_height_the_ankle_is_over_the_toes(key):
    for leg in legs_of(key, view=SIDE):
        if leg.heel == FULL and abs(leg.lean) < 8:
            over = leg.facing * (leg.ankle[0] - leg.ball[0]) / (FOOT * leg.scale)
            assert -0.02 <= over <= 0.12
            steep = degrees(atan2(leg.ball[1] - leg.ankle[1], abs(leg.ankle[0] - leg.ball[0])))
            assert 80 <= steep <= 95


@every_pose
def test_a_clean_front_leg_stands_straight_over_its_toes(key):
    """In a pair the left one is the clean one."""
    edge = WIDTH / 2 if POSES[key].is_fault else WIDTH
    for leg in legs_of(key):
        if leg.view != SIDE and key != "fault-sickled" and leg.ball[0] < edge:
            assert leg.ankle[0] == pytest.approx(leg.ball[0], abs=0.5)


@every_pose
def test_no_foot_sinks_into_the_floor_and_one_stands_on_it(key):
    plate = PLATES[key]
    if not plate.floors or key == "turnout-lying":
        return
    depths = [(leg.lowest() - FLOOR) / leg.scale for _kind, leg in plate.legs]
    assert max(depths) <= LINE
    assert any(abs(depth) <= LINE for depth in depths)


@pytest.mark.parametrize("key", [key for key in POSES if PLATES[key].heads and key != "turnout-lying"])
def test_every_figure_has_a_foot_on_the_floor_below_it(key):
    """As many whole legs stand as there are heads, ghosts in the air apart."""
    whole = [leg for kind, leg in PLATES[key].legs if kind == "skin" and leg.scale == 1]
    assert sum(stands(leg) for leg in whole) >= PLATES[key].heads


@pytest.mark.parametrize("key", [key for key, pose in POSES.items() if pose.holds_barre])
def test_each_figure_at_the_barre_has_a_hand_on_it(key):
    plate = PLATES[key]
    holding = 0
    for arm in plate.arms:
        for barre in plate.barres:
            x, y = (arm.wrist[0] + arm.tip[0]) / 2, (arm.wrist[1] + arm.tip[1]) / 2
            holding += barre.left - 9 <= x <= barre.right + 9 and -11 <= y - barre.y <= 3
    assert holding >= plate.heads > 0


@pytest.mark.parametrize("key", ["balance-two-feet", "push-off"])
def test_a_hand_that_lets_go_is_off_the_barre_and_within_reach_of_it(key):
    [barre] = PLATES[key].barres
    assert any(8 < barre.y - arm.tip[1] < 30 for arm in PLATES[key].arms)


@pytest.mark.parametrize("key", BALANCES)
def test_in_a_balance_the_hip_is_over_the_foot(key):
    on_floor = [leg for kind, leg in PLATES[key].legs if kind == "skin" and stands(leg)]
    for leg in on_floor:
        assert abs(leg.hip[0] - leg.ball[0]) <= 0.5 * FOOT * leg.scale


@every_pose
def test_one_movement_is_told_and_no_more(key):
    kinds = [kind for kind, _path in PLATES[key].items]
    assert kinds.count("movement") <= 1
    if not POSES[key].is_fault:
        assert "movement" in kinds or "axis" in kinds


def points_of(path):
    """Every point of a path of M, L, q, t and z, px."""
    at = (0.0, 0.0)
    for letter, numbers in re.findall(r"([MLqta])([^MLqtaz]*)", path):
        values = [float(each) for each in re.findall(r"-?\d+", numbers)]
        if letter == "a":
            continue
        pairs = list(zip(values[::2], values[1::2], strict=True))
        x, y = pairs[-1]
        at = (x, y) if letter in "ML" else (at[0] + x, at[1] + y)
        yield at[0] / GRAIN, at[1] / GRAIN


@pytest.mark.parametrize("key", [key for key in POSES if key not in CUT])
def test_nothing_lies_outside_the_frame(key):
    for _kind, path in PLATES[key].items:
        for x, y in points_of(path):
            assert -1 <= x <= WIDTH + 1
            assert -1 <= y <= HEIGHT


@every_pose
@pytest.mark.parametrize("size", ["large", "medium", "small"])
def test_a_drawing_holds_no_text_no_id_and_no_style(key, size):
    svg = drawing(key, size)
    assert not re.search(r"<text|\sid=|\sstyle=|<style|url\(|NaN", svg)
    assert len(svg) < 6_500


def test_a_drawing_weighs_three_thousand_bytes_on_the_average_and_less_small():
    large, small = ([len(drawing(key, size)) for key in POSES] for size in ("large", "small"))
    assert sum(large) / len(large) < 3_000
    assert sum(small) < sum(large)


@pytest.mark.parametrize("key", [key for key, pose in POSES.items() if pose.is_fault])
def test_a_fault_alone_is_the_right_half_of_its_pair(key):
    alone = fault_alone(key)
    assert 300 < len(alone) < 3_000 and "NaN" not in alone and f'viewBox="{WIDTH * 2} 0' in alone
    right = [x for path in re.findall(r' d="([^"]+)"', alone) for x, _y in points_of(path)]
    assert min(right) >= WIDTH / 2 - 8
    assert fault_alone("rise-first") == ""


def test_a_drawing_speaks_where_it_is_given_words_and_is_passed_over_where_not():
    assert 'role="img" aria-label="a &quot;foot&quot;"' in drawing("short-foot", label='a "foot"')
    assert 'aria-hidden="true"' in drawing("short-foot")
    assert drawing("no-such-pose") == ""


def test_every_pose_says_what_is_to_be_seen_in_words_of_its_own():
    said = [pose.says for pose in POSES.values()]
    assert len(set(said)) == len(said)
    assert all(words.endswith(".") and len(words) < 160 for words in said)
    assert all(key == pose.key for key, pose in POSES.items())


def test_every_word_of_a_fault_leads_to_a_drawn_pair():
    assert {pose_of_fault(words) for words in FAULTS} <= {key for key, pose in POSES.items() if pose.is_fault}
    assert pose_of_fault(" Rolls in ") == "fault-rolls-in"
    assert pose_of_fault("holds breath") == ""
    assert len(EXERCISE_POSES) == len(POSES) - sum(pose.is_fault for pose in POSES.values())
