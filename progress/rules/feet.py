"""Names the places of the foot that can hurt, and where each is tapped on the drawn plate; knows no
student and no report.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

SIDES = ("L", "R")
VIEWS = ("above", "behind")


@dataclass(frozen=True)
class Tap:
    """Where a region is tapped on the left foot of a view: px of the drawing; the right foot mirrors it."""

    view: str
    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class Region:
    """One place of the foot: its key without the side ("achilles"), its English name (to be translated),
    and its tap areas: one, or two where both views show it. The first one holds the control.
    """

    key: str
    name: str
    taps: tuple[Tap, ...]


# The middle between the feet, px, about which a view is drawn: left foot left of it, right foot mirrored. Behind,
# it is not the middle of the drawing, which leaves room for the outer names.
AXES = {"above": 212.5, "behind": 257.5}

# Tap areas reach past the line to the nearest region; at least 56 px each way and never overlapping.
REGIONS = (
    Region("toes", "toes", (Tap("above", 0, 8, 138, 87),)),
    Region("big-toe-joint", "big toe joint", (Tap("above", 89, 87, 159, 148),)),
    Region("ball", "ball", (Tap("above", 0, 87, 89, 148),)),
    Region("top", "top of the foot", (Tap("above", 0, 148, 159, 236),)),
    Region("ankle-front", "front of the ankle", (Tap("above", 42, 236, 100, 310),)),
    Region("ankle-inner", "inner ankle", (Tap("above", 100, 236, 159, 310), Tap("behind", 164, 126, 222, 206))),
    Region("calf", "calf", (Tap("behind", 71, 0, 195, 90),)),
    Region("achilles", "Achilles", (Tap("behind", 108, 90, 164, 206),)),
    Region("ankle-outer", "outer ankle", (Tap("behind", 49, 126, 108, 206),)),
    Region("heel", "heel", (Tap("behind", 67, 206, 195, 266),)),
    Region("under", "under the foot", (Tap("behind", 77, 266, 191, 323),)),
)

# Places off the plate, as words; (key, English words).
ELSEWHERE = (
    ("L-knee", "left knee"),
    ("R-knee", "right knee"),
    ("L-shin", "left shin"),
    ("R-shin", "right shin"),
    ("L-thigh", "left thigh"),
    ("R-thigh", "right thigh"),
    ("L-hip", "left hip"),
    ("R-hip", "right hip"),
    ("L-outer-edge", "outer edge of the left foot"),
    ("R-outer-edge", "outer edge of the right foot"),
    ("back", "back"),
    ("head", "head"),
    ("neck", "neck"),
)

# Every value the form may send: "L-toes", "R-toes", ... and the places elsewhere.
PLACE_KEYS = tuple(f"{side}-{region.key}" for region in REGIONS for side in SIDES) + tuple(key for key, _ in ELSEWHERE)


def place_words(places: Sequence[str], *, gettext: Callable[[str], str]) -> str:
    """What to call some places in running words: "left Achilles, right heel"; both sides of one place as
    "both heels" would bend in many languages, so each side is named.

    ``places``: keys out of `PLACE_KEYS`, in any order; told in the order given, twice given once told.
    No places give empty text. Raises KeyError for a key that is none. ``gettext`` translates.
    """
    words = _all_words(gettext)
    return ", ".join(words[key] for key in dict.fromkeys(places))


def elsewhere(gettext: Callable[[str], str]) -> tuple[tuple[str, str], ...]:
    """The places off the plate as (key, words in the reader's language)."""
    words = _all_words(gettext)
    return tuple((key, words[key]) for key, _ in ELSEWHERE)


def _all_words(say: Callable[[str], str]) -> dict[str, str]:
    words = {
        "L-toes": say("left toes"),
        "R-toes": say("right toes"),
        "L-big-toe-joint": say("left big toe joint"),
        "R-big-toe-joint": say("right big toe joint"),
        "L-ball": say("left ball of the foot"),
        "R-ball": say("right ball of the foot"),
        "L-top": say("top of the left foot"),
        "R-top": say("top of the right foot"),
        "L-ankle-front": say("front of the left ankle"),
        "R-ankle-front": say("front of the right ankle"),
        "L-ankle-inner": say("left inner ankle"),
        "R-ankle-inner": say("right inner ankle"),
        "L-calf": say("left calf"),
        "R-calf": say("right calf"),
        "L-achilles": say("left Achilles"),
        "R-achilles": say("right Achilles"),
        "L-ankle-outer": say("left outer ankle"),
        "R-ankle-outer": say("right outer ankle"),
        "L-heel": say("left heel"),
        "R-heel": say("right heel"),
        "L-under": say("under the left foot"),
        "R-under": say("under the right foot"),
        "L-knee": say("left knee"),
        "R-knee": say("right knee"),
        "L-shin": say("left shin"),
        "R-shin": say("right shin"),
        "L-thigh": say("left thigh"),
        "R-thigh": say("right thigh"),
        "L-hip": say("left hip"),
        "R-hip": say("right hip"),
        "L-outer-edge": say("outer edge of the left foot"),
        "R-outer-edge": say("outer edge of the right foot"),
        "back": say("back"),
        "head": say("head"),
        "neck": say("neck"),
    }
    return words


def tap_area(tap: Tap, side: str) -> Tap:
    """The tap area on that side's foot: as it is for "L", mirrored about the middle between the feet for
    "R".
    """
    if side == "L":
        return tap
    twice = 2 * AXES[tap.view]
    return Tap(tap.view, twice - tap.right, tap.top, twice - tap.left, tap.bottom)


def style_rules() -> str:
    """The rules of foot.css that follow from the list above: where each tap area lies, and what a chosen
    region paints. They are written down there because a page may carry no inline style.
    """
    places, painted, leaders, names = [], [], [], []
    for region in REGIONS:
        for side in SIDES:
            key = f"{side}-{region.key}"
            chosen = f'.foot-plate:has([value="{key}"]:checked)'
            painted.append(f"{chosen} .foot-region-{key}")
            leaders.append(f"{chosen} .foot-leader-{key}")
            names.append(f"{chosen} .foot-name-{region.key}")
            for tap in region.taps:
                area = tap_area(tap, side)
                places.append(
                    f".foot-tap-{tap.view}-{key} {{ left: {area.left:g}px; top: {area.top:g}px;"
                    f" width: {area.right - area.left:g}px; height: {area.bottom - area.top:g}px; }}"
                )
    return "\n".join([
        *places,
        ",\n".join(painted) + " { fill-opacity: 1; stroke: var(--stop); }",
        ",\n".join(leaders) + " { stroke: var(--stop); stroke-width: 2px; }",
        ",\n".join(names) + " { fill: var(--stop); font-weight: 600; }",
    ]) + "\n"  # fmt: skip
