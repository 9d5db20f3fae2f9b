"""Which reports belong to one matter, what has come back, and why a health professional should see it; pure.

Every limit of days is the studio's own rule; tests/progress/test_pain_returns.py stands on the day before each, on
the day and on the day after.
"""
import datetime as dt
import re
from collections.abc import Iterable

from progress.rules.feet import REGIONS
from progress.rules.pain import (
    BONE,
    CAME_BACK,
    GROWING,
    LASTS,
    MOVED_OTHERWISE,
    SEEN_THE_SAME_DAY,
    SEEN_TODAY,
    SINCE_DAYS,
    Report,
    asks,
    is_expected_ache,
    is_stop_sign,
)

# Something that hurts again within this time has come back: a class that meets every week or every tenth day sees it.
COMES_BACK_DAYS = 14
# A stop sign, or what was to be seen, is remembered for eight weeks: from its day, and again from its return.
STOP_COMES_BACK_DAYS = 56
# Pain that has lasted longer goes to a health professional.
LASTS_DAYS = 7
# Both heels or both shins of a growing child are looked at (heel pain during growth: NHS trust leaflet; that both
# sides and the shins go the same way is the studio's rule).
GROWING_PLACES = ("heel", "shin")
# Where sharp pain that changed the dance, or that began on an earlier day, is looked at before any rise or jump: bone
# stress of adolescents (O'Malley et al. 1996 for the midfoot; the places are a clinician's judgement, from memory).
BONE_PLACES = frozenset({"shin", "top", "ball", "outer-edge"})
# So many days on which one matter hurt within STOP_COMES_BACK_DAYS have come back, however far apart they are.
OFTEN = 3
# Everything below the knee of one side is one matter: a neighbouring spot of the same foot is no new pain.
_BELOW_KNEE = frozenset({region.key for region in REGIONS} | {"outer-edge", "shin"})
# However far off the next class is, pain is settled by the teacher after so many days at the latest.
SETTLES_WITHIN_DAYS = 7
# What names a place in words, English or German: its matter without the side, and the words; from memory.
_NAMED = {
    "foot": re.compile(
        r"\bf(?:oo|ee)t\b|\btoes?\b|\bheels?\b|\bankles?\b|\bachilles\w*|\bshins?\b|\bcal(?:f|ves)\b"
        r"|\barch(?:es)?\b|\binsteps?\b|\bsoles?\b|\b\w*fu(?:ß|ss)\w*|\bfü(?:ß|ss)\w*|\b\w*zehen?\b|\bfersen?\b"
        r"|\bknöchel\w*|\bschienbein\w*|\bwaden?\b|\bspann\b|\bsohlen?\b|\bsprunggelenk\w*", re.IGNORECASE,
    ),
    "knee": re.compile(r"\bknee\w*|\bknie\w*", re.IGNORECASE),
    "hip": re.compile(r"\bhips?\b|\bgroins?\b|\bhüft\w*|\bleiste\w*", re.IGNORECASE),
}
_BACK = re.compile(r"\bback ?ache\w*|\bher back\b|\bhis back\b|\blower back\b|\brücken\w*", re.IGNORECASE)
_SIDE_WORDS = {
    "L": re.compile(r"\bleft\b|\blinke?[rsnm]?\b", re.IGNORECASE),
    "R": re.compile(r"\bright\b|\brechte?[rsnm]?\b", re.IGNORECASE),
}
# Words that say nothing of where it hurts.
_EMPTY_WORDS = frozenset({
    "the", "and", "that", "this", "with", "when", "after", "before", "again", "still", "hurts", "hurt", "pain", "sore",
    "bit", "her", "his", "she", "they", "has", "had", "was", "der", "die", "das", "und", "wenn", "nach", "beim",
    "wieder", "noch", "tut", "weh", "schmerz", "schmerzen", "schmerzt", "etwas", "ihr", "sie", "hat", "war",
})


def matters(report: Report) -> frozenset[str]:
    """What a report is about, coarse enough that a neighbouring spot is the same: "L-foot" for all below the left
    knee, "R-knee", "R-hip", "back", "head". Where no place was tapped, what the words name; of a side that they
    leave open, both.

    >>> sorted(matters(Report(("L-achilles", "L-shin", "back"))))
    ['L-foot', 'back']
    >>> sorted(matters(Report((), note="die linke Ferse"))), sorted(matters(Report((), note="one heel")))
    (['L-foot'], ['L-foot', 'R-foot'])
    """
    found = set()
    for place in report.places:
        side, _dash, name = place.partition("-")
        if not name:
            found.add(place)
        else:
            found.add(f"{side}-foot" if name in _BELOW_KNEE else place)
    if not report.places:
        found |= _told_matters(report.note)
    return frozenset(found | ({"head"} if {"head", "neck"} & report.names else set()))


def _told_matters(note: str) -> set[str]:
    sides = {side for side, words in _SIDE_WORDS.items() if words.search(note)} or set(_SIDE_WORDS)
    named = {name for name, words in _NAMED.items() if words.search(note)}
    return {f"{side}-{name}" for side in sides for name in named} | ({"back"} if _BACK.search(note) else set())


def is_same_matter(one: Report, other: Report) -> bool:
    """True where both are about the same part of the body; what was told in words is compared by words and side.

    >>> one = Report(("L-heel",))
    >>> is_same_matter(one, Report(("L-achilles",))), is_same_matter(one, Report(("R-heel",)))
    (True, False)
    >>> is_same_matter(Report((), note="left thigh"), Report((), note="the thigh again, left"))
    True
    >>> is_same_matter(Report((), note="left thigh"), Report((), note="right thigh"))
    False
    """
    if matters(one) & matters(other):
        return True
    if one.places and other.places:
        return False
    mine, theirs = _sides(one), _sides(other)
    if mine and theirs and not mine & theirs:
        return False
    return bool(_words(one) & _words(other))


def _sides(report: Report) -> set[str]:
    tapped = {place[0] for place in report.places if place[1:2] == "-"}
    return tapped or {side for side, words in _SIDE_WORDS.items() if words.search(report.note)}


def _words(report: Report) -> set[str]:
    """The words that say where, cut short so that a foot and feet's toes meet their plurals; places in English."""
    told = {word for name in report.names for word in name.split("-")}
    told |= {word for word in re.findall(r"\w{3,}", report.note.casefold()) if word not in _EMPTY_WORDS}
    return {word[:4] for word in told if not any(side.fullmatch(word) for side in _SIDE_WORDS.values())}


def comes_back(report: Report, earlier: Iterable[Report]) -> tuple[Report, ...]:
    """The reports of the same matter on an earlier day, near enough to be pain that lasts or returns."""
    earlier = [before for before in earlier if before.on is not None]
    often = _often(report, earlier)
    if often:
        return often
    return tuple(
        before
        for before in earlier
        if report.on is not None and before.on < report.on
        and (before.is_open or (report.on - last_day(before)).days <= _remembered_days(report, before))
        and is_same_matter(before, report)
    )


def goes_with(report: Report, before: Report) -> bool:
    """True where the earlier one is of the same story: pain of the same matter that comes back, or of the same day;
    the other heel or shin of a growing child.

    >>> day = dt.date(2031, 3, 3)
    >>> goes_with(Report(("L-heel",), on=day), Report(("L-calf",), ("limps",), on=day))
    True
    >>> goes_with(Report(("L-heel",), on=day), Report(("R-heel",), on=day - dt.timedelta(7)))
    True
    """
    if _is_other_side_of_growing(report, before):
        return True
    return bool(comes_back(report, [before])) or (before.on == report.on and is_same_matter(before, report))


def _often(report: Report, earlier: list[Report]) -> tuple[Report, ...]:
    """The earlier ones of the same matter where it hurt on OFTEN days, this one's included, within eight weeks."""
    near = [
        before for before in earlier if report.on is not None and before.on < report.on
        and (report.on - before.on).days <= STOP_COMES_BACK_DAYS and is_same_matter(before, report)
        and not is_expected_ache(before)
    ]
    return tuple(near) if len({before.on for before in near}) >= OFTEN - 1 else ()


def last_day(before: Report) -> dt.date:
    """Its own day, or that on which its matter was closed, whichever is later: a return is counted from there."""
    return max(before.on, before.settled_on or before.on)


def _remembered_days(report: Report, before: Report) -> int:
    is_grave = is_stop_sign(asks(report)) or is_stop_sign(asks(before)) or before.was_followed
    return STOP_COMES_BACK_DAYS if is_grave else COMES_BACK_DAYS


def referral(reports: Iterable[Report]) -> str:
    """Why a health professional should see what these reports of one student tell: "" where nothing asks for it.

    "seen_today": a sign for a medical assessment today that nobody has answered; "came_back": one matter hurt in two
    classes (aches that new work brings alone do not count); "lasts": for more than seven days, as said or as reported
    again and again; "bone": sharp in one spot where bone is stressed, or pain in rest; "growing": both heels or shins,
    on one day or one after the other.

    >>> day = dt.date(2031, 3, 3)
    >>> one = Report(("L-achilles",), ("sharp",), on=day)
    >>> referral([one]), referral([one, Report(("L-heel",), ("dull",), on=day + dt.timedelta(7))])
    ('', 'came_back')
    >>> referral([Report(("L-calf", "R-calf"), ("dull",), since="longer", on=day)])
    'lasts'
    >>> referral([Report(("L-heel", "R-heel"), ("dull",), on=day)])
    'growing'
    """
    ordered = sorted((r for r in reports if r.on is not None), key=lambda r: r.on)
    urgent = [report for report in ordered if asks(report) in SEEN_THE_SAME_DAY]
    if any(report.settled_on is None for report in urgent):
        return SEEN_TODAY
    found, began = SEEN_TODAY if urgent else "", []
    for at, report in enumerate(ordered):
        start = report.on - dt.timedelta(days=SINCE_DAYS[report.since])
        for before, its_start in zip(ordered[:at], began, strict=True):
            if comes_back(report, [before]):
                start = min(start, its_start)
                if not (is_expected_ache(report) and is_expected_ache(before)):
                    return CAME_BACK
        if (report.on - start).days > LASTS_DAYS and not urgent:
            found = LASTS
        elif found in ("", GROWING) and is_bone_pain(report):
            found = BONE
        elif not found and is_growing_pain(report, ordered[:at]):
            found = GROWING
        began.append(start)
    return found


def settles_from(told_on: dt.date, next_class_on: dt.date | None) -> dt.date:
    """The first day on which a teacher may settle what was told: that of the next class, for there it is asked about
    again; where none is known, the day after. A clinician's clearance waits for no day, nor does a mistaken tap.

    >>> told = dt.date(2031, 3, 3)
    >>> str(settles_from(told, told + dt.timedelta(2))), str(settles_from(told, None))
    ('2031-03-05', '2031-03-04')
    >>> str(settles_from(told, told + dt.timedelta(20)))
    '2031-03-10'
    """
    return min(next_class_on or told_on + dt.timedelta(days=1), told_on + dt.timedelta(days=SETTLES_WITHIN_DAYS))


def is_bone_pain(report: Report) -> bool:
    """Sharp pain in a place where bone is stressed that changed the dance or did not begin today; any pain in rest.

    >>> is_bone_pain(Report(("L-shin",), ("sharp",), 5, "changed")), is_bone_pain(Report(("L-shin",), ("sharp",), 5))
    (True, False)
    """
    is_early = report.stopped not in MOVED_OTHERWISE and report.since in ("", "today")
    is_there = "sharp" in report.all_feels and bool(BONE_PLACES & report.names)
    return "rest" in report.all_signs or (is_there and not is_early)


def is_growing_pain(report: Report, earlier: Iterable[Report] = ()) -> bool:
    """Both heels or both shins hurt, at once or one after the other: looked at while a child grows.

    >>> day = dt.date(2031, 3, 3)
    >>> left, right = Report(("L-heel",), on=day), Report(("R-heel",), on=day + dt.timedelta(14))
    >>> is_growing_pain(right), is_growing_pain(right, [left]), is_growing_pain(Report(("R-shin",), on=day), [left])
    (False, True, False)
    """
    if any({f"L-{name}", f"R-{name}"} <= set(report.places) for name in GROWING_PLACES):
        return True
    return any(_is_other_side_of_growing(report, before) for before in earlier)


def _is_other_side_of_growing(report: Report, before: Report) -> bool:
    """One heel, or one shin, and the other one told before: still open, or not longer ago than what comes back."""
    days = (report.on - before.on).days
    if days < 0 or not (before.is_open or days <= COMES_BACK_DAYS):
        return False
    return any(
        {f"L-{name}", f"R-{name}"} <= {*report.places, *before.places}
        and {f"L-{name}", f"R-{name}"} & set(report.places)
        for name in GROWING_PLACES
    )
