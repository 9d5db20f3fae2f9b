"""What a pain report asks of the teacher: pure rules on what was tapped; knows no Django, no database, no diagnosis.

Sources: warning signs as collected from the Ottawa ankle rules criteria and paediatric musculoskeletal red
flags; the limits of two classes and seven days are the studio's own rule.
"""
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from progress.voice import PLAIN, Voice

# What it feels like: (key, words). The words are the trade's and the child's, none of them names an injury.
FEELS = (
    ("sharp", "sharp, pin-point"),
    ("dull", "dull ache"),
    ("limps", "limps, can’t take weight"),
    ("swollen", "swollen or hot"),
    ("numb", "numb or tingling"),
    ("other", "something else"),
)
STOPPED = (
    ("nothing", "nothing"),
    ("changed", "changed how it is done"),
    ("exercise", "this exercise"),
    ("class", "the whole class"),
)
DOCTOR_TODAY, STOP, WATCH, EASE = "doctor_today", "stop", "watch", "ease"
# What forbids rising until somebody has answered it.
STOP_SIGNS = frozenset({DOCTOR_TODAY, STOP})
# Signs for a medical assessment on the same day: cannot take weight, swollen or hot joint, numbness
# (Ottawa ankle rules criteria; regional health-service guidance; numbness from memory).
SAME_DAY = frozenset({"limps", "swollen", "numb"})
# Pain that changes technique from 4 of 10 on: the studio's own rule.
WATCH_FROM = 4
# Severe pain by the bands of a validated faces scale: 8 and 10 are severe (Tsze et al. 2018); a report of 8 or
# more is treated as a stop sign whatever it feels like: the studio's own rule.
STOP_FROM = 8
# A stop sign that comes back within this time, or lasts longer, goes to a health professional: the studio's own rule.
COMES_BACK_DAYS = 7


@dataclass(frozen=True)
class Report:
    """One pain report. `places`: region keys such as "L-achilles"; `intensity` 0 to 10 or None; `on`: its day."""

    places: tuple[str, ...]
    feels: str
    intensity: int | None = None
    stopped: str = ""
    on: dt.date | None = None


def asks(report: Report) -> str:
    """What one report asks for: "doctor_today", "stop", "watch" or "ease".

    >>> asks(Report(("L-achilles",), "sharp")), asks(Report(("L-heel", "R-heel"), "dull", 2))
    ('stop', 'ease')
    >>> asks(Report((), "limps"))
    'doctor_today'
    """
    if report.feels in SAME_DAY:
        return DOCTOR_TODAY
    intensity = report.intensity or 0
    if report.feels == "sharp" or intensity >= STOP_FROM or report.stopped == "class":
        return STOP
    both_sides = {place[:1] for place in report.places} >= {"L", "R"}
    # A dull ache on both sides after new work is expected; one-sided, it is watched (studio's own rule).
    if report.feels == "dull" and both_sides and intensity < WATCH_FROM and report.stopped in ("", "nothing"):
        return EASE
    return WATCH


def is_stop_sign(asked: str) -> bool:
    """True for what forbids rising until somebody has answered it."""
    return asked in STOP_SIGNS


def comes_back(report: Report, earlier: Iterable[Report]) -> tuple[Report, ...]:
    """The reports of the same place on an earlier day within the days above: pain that lasts or returns."""
    return tuple(
        before
        for before in earlier
        if before.on is not None and report.on is not None
        and 0 < (report.on - before.on).days <= COMES_BACK_DAYS
        and set(before.places) & set(report.places)
    )


def next_step(asked: str, *, comes_back: bool, voice: Voice = PLAIN) -> tuple[str, str]:
    """(heading, sentence): what the teacher does now. Cautions, not advice for treatment; local rules come first."""
    gettext = voice.gettext
    if asked == DOCTOR_TODAY:
        return (
            gettext("Stop now. Ring home. To be seen by a doctor today."),
            gettext("Nothing more on this foot in class. Somebody stays with the child until home has come."),
        )
    if asked == STOP:
        if comes_back:
            return (
                gettext("Stop the rises. A health professional should see it."),
                gettext("It came back within days. Tell the parent today; no rises until it has been seen."),
            )
        return (
            gettext("Stop the rises for today."),
            gettext(
                "Ask again before going home, and tell the parent today. If it comes back in another class or "
                "lasts over 7 days, a health professional should see it."
            ),
        )
    if asked == WATCH:
        return (
            gettext("Leave out what hurts, and watch."),
            gettext("Look at it again in the next class. If it rises, lasts over 7 days or turns sharp, stop."),
        )
    return (
        gettext("Ease off today. It is in the log."),
        gettext("Tired muscles on both sides after new work are expected. If it turns sharp or one-sided, stop."),
    )
