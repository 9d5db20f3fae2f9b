"""What a pain report asks of the teacher: pure rules on what was tapped; knows no Django, no database, no diagnosis.

Sources: warning signs as collected from the Ottawa ankle rules criteria and paediatric musculoskeletal red
flags; every limit of days, classes and numbers is the studio's own rule. tests/progress/test_pain_table.py
holds the whole table with the source of each line.
"""
import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from progress.words.voice import PLAIN, Voice

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
    ("changed", "done differently"),
    ("exercise", "this exercise"),
    ("class", "the whole class"),
)
SINCE = (
    ("today", "today"),
    ("days", "1 to 3 days"),
    ("week", "4 to 7 days"),
    ("longer", "over 7 days"),
)
# At least so many days ago it began.
SINCE_DAYS = {"": 0, "today": 0, "days": 1, "week": 4, "longer": 8}
DOCTOR_TODAY, STOP, WATCH, EASE = "doctor_today", "stop", "watch", "ease"
# From the mildest to the most urgent.
URGENCY = (EASE, WATCH, STOP, DOCTOR_TODAY)
# What forbids rising until somebody has answered it.
STOP_SIGNS = frozenset({DOCTOR_TODAY, STOP})
# Signs for a medical assessment on the same day: cannot take weight, swollen or hot joint, numbness
# (Ottawa ankle rules criteria; regional health-service guidance; numbness from memory).
SAME_DAY = frozenset({"limps", "swollen", "numb"})
# Where the Ottawa ankle rules ask for bone tenderness; only an examiner can feel for it, so sharp pain there
# that stopped the exercise is enough for the same day: the studio's own rule.
ANKLE_BONES = frozenset({"ankle-inner", "ankle-outer"})
# Pain that changes technique from 4 of 10 on: the studio's own rule.
WATCH_FROM = 4
# Severe pain by the bands of a validated faces scale: 8 and 10 are severe (Tsze et al. 2018); a report of 8 or
# more is treated as a stop sign whatever it feels like: the studio's own rule.
STOP_FROM = 8
# An ache of both sides after new work is gone after 24 to 72 hours (secondary summary); later it is watched.
EASE_SINCE = frozenset({"", "today", "days"})
# Pain of one place that comes back within this time, or lasts longer, goes to a health professional: studio's rule.
COMES_BACK_DAYS = 7
# A stop sign of the same place is remembered for longer, for a class that meets once a week: studio's rule.
STOP_COMES_BACK_DAYS = 28
# Why a health professional should see it.
SEEN_TODAY, CAME_BACK, LASTS = "seen_today", "came_back", "lasts"
# Who may have answered a report; the keys are stored.
BY_TEACHER, BY_CLINICIAN, BY_OWNER, BY_MISTAKE = "teacher", "clinician", "owner", "mistake"


@dataclass(frozen=True)
class Report:
    """One pain report. `places`: region keys such as "L-achilles"; `intensity` 0 to 10 or None; `on`: its day."""

    places: tuple[str, ...]
    feels: str
    intensity: int | None = None
    stopped: str = ""
    on: dt.date | None = None
    since: str = ""


def asks(report: Report) -> str:
    """What one report asks for: "doctor_today", "stop", "watch" or "ease".

    >>> asks(Report(("L-achilles",), "sharp")), asks(Report(("L-heel", "R-heel"), "dull", 2))
    ('stop', 'ease')
    >>> asks(Report((), "limps")), asks(Report(("L-ankle-outer",), "sharp", stopped="exercise"))
    ('doctor_today', 'doctor_today')
    """
    if report.feels in SAME_DAY:
        return DOCTOR_TODAY
    if report.feels == "sharp":
        at_ankle = any(place[2:] in ANKLE_BONES for place in report.places)
        return DOCTOR_TODAY if at_ankle and report.stopped in ("exercise", "class") else STOP
    intensity = report.intensity or 0
    if intensity >= STOP_FROM or report.stopped == "class":
        return STOP
    is_mild = intensity < WATCH_FROM and report.stopped in ("", "nothing") and report.since in EASE_SINCE
    # A dull ache of the same place on both sides after new work is expected; one-sided, it is watched.
    if report.feels == "dull" and is_mild and is_on_both_sides(report.places):
        return EASE
    return WATCH


# The kinds of place that the rules tell apart, as pairs of (at an ankle bone, the same on both sides).
PLACE_KINDS = ("", "bone", "both", "both bones")
_OF_KIND = {"": ("L-heel",), "bone": ("L-ankle-outer",), "both": ("L-heel", "R-heel"),
            "both bones": ("L-ankle-outer", "R-ankle-outer")}


def triage_table() -> str:
    """What every combination asks for, one digit each (its place in URGENCY), for a tablet without a network.

    In the order of FEELS, PLACE_KINDS, then "" and STOPPED, "" and SINCE, None and 0 to 10, the last running fastest.

    >>> len(triage_table()), triage_table()[0] == str(URGENCY.index(asks(Report(("L-heel",), "sharp"))))
    (7200, True)
    """
    effects, times = (["", *(key for key, _words in words)] for words in (STOPPED, SINCE))
    return "".join(
        str(URGENCY.index(asks(Report(_OF_KIND[kind], feel, number, effect, since=time))))
        for (feel, _words), kind, effect, time, number in product(
            FEELS, PLACE_KINDS, effects, times, (None, *range(11))
        )
    )


def is_on_both_sides(places: Sequence[str]) -> bool:
    """True where every place was tapped left and right; without a place, False.

    >>> is_on_both_sides(("L-heel", "R-heel")), is_on_both_sides(("L-heel", "R-calf")), is_on_both_sides(())
    (True, False, False)
    """
    left = {place[2:] for place in places if place.startswith("L-")}
    right = {place[2:] for place in places if place.startswith("R-")}
    return bool(left) and left == right and len(left) + len(right) == len(set(places))


def is_stop_sign(asked: str) -> bool:
    """True for what forbids rising until somebody has answered it."""
    return asked in STOP_SIGNS


def comes_back(report: Report, earlier: Iterable[Report]) -> tuple[Report, ...]:
    """The reports of the same place on an earlier day, near enough to be pain that lasts or returns."""
    return tuple(
        before
        for before in earlier
        if before.on is not None and report.on is not None
        and 0 < (report.on - before.on).days <= _remembered_days(report, before)
        and set(before.places) & set(report.places)
    )


def _remembered_days(report: Report, before: Report) -> int:
    stops = is_stop_sign(asks(report)) or is_stop_sign(asks(before))
    return STOP_COMES_BACK_DAYS if stops else COMES_BACK_DAYS


def referral(reports: Iterable[Report]) -> str:
    """Why a health professional should see what these reports of one student tell: "" where nothing asks for it.

    "seen_today": a sign for a medical assessment today; "came_back": one place hurt in two classes (expected aches
    alone do not count); "lasts": for more than seven days, as said or as reported again and again.

    >>> day = dt.date(2031, 3, 3)
    >>> one = Report(("L-achilles",), "sharp", on=day)
    >>> referral([one]), referral([one, Report(("L-achilles",), "dull", on=day + dt.timedelta(7))])
    ('', 'came_back')
    >>> referral([Report(("L-heel", "R-heel"), "dull", since="longer", on=day)])
    'lasts'
    """
    ordered = sorted((r for r in reports if r.on is not None), key=lambda r: r.on)
    if any(asks(report) == DOCTOR_TODAY for report in ordered):
        return SEEN_TODAY
    found, began = "", []
    for at, report in enumerate(ordered):
        start = report.on - dt.timedelta(days=SINCE_DAYS[report.since])
        for before, its_start in zip(ordered[:at], began, strict=True):
            if comes_back(report, [before]):
                start = min(start, its_start)
                if {asks(report), asks(before)} != {EASE}:
                    return CAME_BACK
        if (report.on - start).days > COMES_BACK_DAYS:
            found = LASTS
        began.append(start)
    return found


def may_answer(kind: str, *, referred: str, may_overrule: bool) -> bool:
    """True where an answer of this kind closes the pain: of a referred one only a clinician's clearance does, or
    whoever may overrule (the owner), with a reason.

    >>> [may_answer(kind, referred="came_back", may_overrule=False) for kind in ("teacher", "clinician", "mistake")]
    [False, True, False]
    """
    if kind == BY_CLINICIAN:
        return True
    if kind == BY_OWNER:
        return may_overrule
    return not referred or may_overrule


def next_step(asked: str, *, referred: str = "", voice: Voice = PLAIN) -> tuple[str, str]:
    """(heading, sentence): what the teacher does now. Cautions, not advice for treatment; local rules come first."""
    gettext = voice.gettext
    if asked == DOCTOR_TODAY:
        return (
            gettext("Stop now. Ring home. To be seen by a doctor today."),
            gettext("Nothing more in class today. Somebody stays with the child until home has come."),
        )
    if referred:
        return _referred_step(asked, referred, voice)
    if asked == STOP:
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


def _referred_step(asked: str, referred: str, voice: Voice) -> tuple[str, str]:
    gettext = voice.gettext
    why = {
        CAME_BACK: gettext("It has hurt in two classes."), LASTS: gettext("It has lasted over 7 days."),
        SEEN_TODAY: gettext("There was a sign for a doctor on the same day."),
    }[referred]
    if is_stop_sign(asked):
        heading = gettext("Stop the rises. A health professional should see it.")
        what = gettext("Tell the parent today; no rises until it has been seen.")
    else:
        heading = gettext("Leave out what hurts. A health professional should see it.")
        what = gettext("Tell the parent today, and leave out what hurts until it has been seen.")
    return heading, f"{why} {what}"
