"""What a pain report asks of the teacher: pure rules on what was tapped; knows no Django, no database, no diagnosis.

The rows below only ever raise the answer: more pain, another feeling, sign, place or effect never lowers it. Where a
source is a studio's own rule, the row says so; the owner may make it stricter (`Stricter`), never milder.
tests/progress/test_pain_table.py holds every row with its source.
"""
import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from progress.rules.red_words import named_in
from studio.voice import PLAIN, Voice

# What it feels like: (key, words); several may be tapped. The words are the trade's and the child's, none of them
# names an injury.
FEELS = (
    ("sharp", "sharp, pin-point"),
    ("dull", "dull ache"),
    ("limps", "limps"),
    ("swollen", "swollen or hot"),
    ("numb", "numb or tingling"),
    ("other", "something else"),
)
# What else there is: signs that are asked for in one row, beside whatever it feels like.
SIGNS = (
    ("night", "wakes at night"),
    ("snap", "a snap was heard"),
    ("gives_way", "gives way or locks"),
    ("unwell", "fever or unwell"),
    ("no_weight", "can’t put weight on it"),
    ("twisted", "twisted, fell or was hit"),
    ("rest", "hurts when sitting still"),
    ("looks", "bent, blue or cold"),
)
# What nobody taps and words may name: an emergency.
WORD_SIGNS = (("collapse", "fainted, a fit, chest pain or short of breath"),)
# Could the student go on?
STOPPED = (
    ("nothing", "yes"),
    ("changed", "with changes"),
    ("exercise", "not this exercise"),
    ("class", "not at all"),
)
SINCE = (
    ("today", "today"),
    ("days", "1 to 3 days"),
    ("week", "4 to 7 days"),
    ("longer", "over 7 days"),
)
# At least so many days ago it began.
SINCE_DAYS = {"": 0, "today": 0, "days": 1, "week": 4, "longer": 8}
# "ease" stands on reports of earlier days only: what it asked for, `WATCH` asks for now in gentler words.
EASE, WATCH, STOP, DOCTOR_TODAY, HEAD, EMERGENCY = "ease", "watch", "stop", "doctor_today", "head", "emergency"
# From the mildest to the most urgent.
URGENCY = (EASE, WATCH, STOP, DOCTOR_TODAY, HEAD, EMERGENCY)
# What is to be seen by a doctor on the same day, and what forbids rising until somebody has answered it.
SEEN_THE_SAME_DAY = frozenset({DOCTOR_TODAY, HEAD, EMERGENCY})
STOP_SIGNS = SEEN_THE_SAME_DAY | {STOP}
# Where the Ottawa rules for ankle and midfoot ask for bone tenderness: both ankle bones, the instep and the outer
# border of the foot. Only an examiner can feel for it, so sharp pain there that stopped the exercise is enough.
OTTAWA_PLACES = frozenset({"ankle-inner", "ankle-outer", "top", "outer-edge"})
HEAD_PLACES = frozenset({"head", "neck"})
FEEL_KEYS, SIGN_KEYS = (frozenset(key for key, _words in rows) for rows in (FEELS, SIGNS + WORD_SIGNS))
# Enough by themselves to be told: nobody has to find a place, or a feeling, to stop a child.
ENOUGH_FEELS = frozenset({"limps", "swollen", "numb"})
# The bands of a validated faces scale: 4 is mild, 6 moderate, 8 and 10 are severe (Tsze et al. 2018).
MILD_TO, MODERATE_FROM, SEVERE_FROM = 3, 6, 8
# What it stopped, that ends the day's rises by itself; and what at least changed how the student moves.
NOT_THIS = frozenset({"exercise", "class"})
MOVED_OTHERWISE = NOT_THIS | {"changed"}
# Pain from here on that changes technique ends the day's rises; a review in a week was the milder rule before.
CHANGES_FROM = 4
# Where an ache of both sides after new work is expected, and for how long (24 to 72 hours: secondary summary).
WORKING_MUSCLES = frozenset({"calf", "under"})
EXPECTED_SINCE = frozenset({"", "today", "days"})
# Who may have answered a report; the keys are stored.
BY_TEACHER, BY_CLINICIAN, BY_OWNER, BY_MISTAKE = "teacher", "clinician", "owner", "mistake"


@dataclass(frozen=True)
class Report:
    """One pain report.

    places: keys such as "L-achilles", "back"; feels, signs: keys of FEELS and SIGNS; intensity: 0 to 10 or None;
    on: its day; note: free words; not_meant: what the words seemed to name and was said not to be meant (red_words).
    asked: what was answered when it was told, by a stricter rule perhaps: it never asks for less again.
    settled_on: the day on which its matter was closed, None where it never was; was_followed: it was a stop sign or
    was to be seen, so that what hurts later is a return of it; is_open: its matter still waits for an answer.
    """

    places: tuple[str, ...]
    feels: tuple[str, ...] = ()
    intensity: int | None = None
    stopped: str = ""
    on: dt.date | None = None
    since: str = ""
    signs: tuple[str, ...] = ()
    note: str = ""
    not_meant: tuple[str, ...] = ()
    settled_on: dt.date | None = None
    was_followed: bool = False
    is_open: bool = False
    asked: str = field(default="", compare=False)

    @property
    def _in_words(self) -> frozenset[str]:
        return named_in(self.note) - set(self.not_meant)

    @property
    def names(self) -> frozenset[str]:
        """The places without their sides, those that only the words name among them."""
        tapped = frozenset(place.split("-", 1)[1] if place[1:2] == "-" else place for place in self.places)
        return tapped | (self._in_words & HEAD_PLACES)

    @property
    def all_feels(self) -> frozenset[str]:
        """What was tapped and what the words name, unless it was said not to be meant; a tap always stands."""
        return frozenset(self.feels) | (self._in_words & FEEL_KEYS)

    @property
    def all_signs(self) -> frozenset[str]:
        """The same of the signs."""
        return frozenset(self.signs) | (self._in_words & SIGN_KEYS)


@dataclass(frozen=True)
class Row:
    """Where all of it holds, the answer is at least `asks`. An empty set asks for nothing; of the others one member
    is enough. `number`: from so many of 10 on. `source`: where the row comes from."""

    asks: str
    source: str
    feels: frozenset[str] = frozenset()
    signs: frozenset[str] = frozenset()
    places: frozenset[str] = frozenset()
    stopped: frozenset[str] = frozenset()
    number: int = 0

    def fits(self, report: Report) -> bool:
        return all((
            not self.feels or self.feels & report.all_feels,
            not self.signs or self.signs & report.all_signs,
            not self.places or self.places & report.names,
            not self.stopped or report.stopped in self.stopped,
            (report.intensity or 0) >= self.number,
        ))


@dataclass(frozen=True)
class Stricter:
    """What the owner made stricter. doctor_from: intensity from which a doctor looks the same day, SEVERE_FROM at
    most; doctor_places: places, without side, where any pain that stopped the exercise is seen the same day."""

    doctor_from: int = SEVERE_FROM
    doctor_places: frozenset[str] = field(default_factory=frozenset)

    def __post_init__(self):
        if not 1 <= self.doctor_from <= SEVERE_FROM:
            raise ValueError("the owner's rule may be stricter, never milder")


USUAL = Stricter()


_OWN = "the studio's own rule"
_FLAGS, _OTTAWA = "paediatric musculoskeletal red flags", "Ottawa ankle rules criteria"


_SEEN_THE_SAME_DAY = (
    Row(HEAD, "concussion guidance for sport: a knock on the head or neck ends the class, seen the same day "
        "(from memory)", places=HEAD_PLACES),
    Row(DOCTOR_TODAY, _OTTAWA + ": limps for four steps", feels=frozenset({"limps"})),
    Row(DOCTOR_TODAY, _OTTAWA + ": cannot take weight", signs=frozenset({"no_weight"})),
    Row(DOCTOR_TODAY, "regional health-service guidance: swollen, red or hot joint, a doctor today",
        feels=frozenset({"swollen"})),
    Row(DOCTOR_TODAY, "numbness, pins and needles: within 24 to 48 h (from memory); today is " + _OWN,
        feels=frozenset({"numb"})),
    Row(DOCTOR_TODAY, _FLAGS + ": night pain that wakes", signs=frozenset({"night"})),
    Row(DOCTOR_TODAY, _FLAGS + ": fever, unwell", signs=frozenset({"unwell"})),
    Row(DOCTOR_TODAY, "giving way, locking, an audible snap: within 24 to 48 h (from memory); today is " + _OWN,
        signs=frozenset({"gives_way", "snap"})),
    Row(EMERGENCY, "out of shape, cold or another colour; fainted, a fit, chest pain, no breath: first aid "
        "(from memory)", signs=frozenset({"looks", "collapse"})),
    Row(DOCTOR_TODAY, _OTTAWA + ": a fresh twist or blow at its places that changes how the child moves; that it "
        "needs no tenderness is " + _OWN, signs=frozenset({"twisted"}), places=OTTAWA_PLACES,
        stopped=MOVED_OTHERWISE),
    Row(DOCTOR_TODAY, _FLAGS + ": pain that does not remit, from moderate on", signs=frozenset({"rest"}),
        number=MODERATE_FROM),
    Row(DOCTOR_TODAY, _OWN + ": what it stopped tells more than how it feels", stopped=frozenset({"class"})),
    Row(DOCTOR_TODAY, _OWN + ", after the places of the Ottawa ankle and foot rules",
        feels=frozenset({"sharp"}), places=OTTAWA_PLACES, stopped=MOVED_OTHERWISE),
)
_LATER = (
    Row(STOP, _OWN + ": after a fall, a twist or a blow nothing more that day", signs=frozenset({"twisted"})),
    Row(STOP, _FLAGS + ": pain that does not remit", signs=frozenset({"rest"})),
    Row(STOP, _OWN + ": pain that changes technique", stopped=frozenset({"changed"}), number=CHANGES_FROM),
    Row(STOP, "secondary summary: localised and sharper means stop", feels=frozenset({"sharp"})),
    Row(STOP, _OWN + ", because what dancers can do tells more than how they describe it (a questionnaire of "
        "professional dancers)", stopped=NOT_THIS),
    Row(STOP, "moderate band of a faces scale (Tsze et al. 2018); that it ends the day's rises is " + _OWN,
        number=MODERATE_FROM),
    Row(STOP, _OWN + ": a hip, thigh or knee that changes how a growing child moves; it may be the hip",
        places=frozenset({"hip", "thigh", "knee"}),
        stopped=frozenset({"changed"})),
    Row(WATCH, _OWN + ": whatever hurts is told at home and asked about in the next class"),
)


@lru_cache(maxsize=16)
def rows(stricter: Stricter = USUAL) -> tuple[Row, ...]:
    """The whole table; every row that fits counts, and the most urgent of them is the answer."""
    extra = ()
    if stricter.doctor_places:
        extra = (Row(DOCTOR_TODAY, "this studio's owner", places=stricter.doctor_places, stopped=NOT_THIS),)
    severe = Row(
        DOCTOR_TODAY,
        "severe band of a faces scale (Tsze et al. 2018); that severe pain is seen the same day: " + _FLAGS,
        number=stricter.doctor_from,
    )
    return (*extra, *_SEEN_THE_SAME_DAY, severe, *_LATER)


def asks(report: Report, stricter: Stricter = USUAL) -> str:
    """What one report asks for, one of URGENCY but "ease": the most urgent row of the table that fits it.

    >>> asks(Report(("L-achilles",), ("sharp",))), asks(Report(("L-calf", "R-calf"), ("dull",), 2))
    ('stop', 'watch')
    >>> asks(Report((), ("limps",))), asks(Report(("L-ankle-outer",), ("sharp",), stopped="exercise"))
    ('doctor_today', 'doctor_today')
    >>> asks(Report((), ("other",), note="hit her head on the barre")), asks(Report(("R-shin",), ("dull",), 9))
    ('head', 'doctor_today')
    """
    fitting = [row.asks for row in rows(stricter) if row.fits(report)]
    return most_urgent([*fitting, report.asked] if report.asked else fitting)


def table(stricter: Stricter = USUAL) -> list[dict]:
    """The rows as a tablet reads them without a network, the sources apart."""
    return [
        {"asks": row.asks, "feels": sorted(row.feels), "signs": sorted(row.signs), "places": sorted(row.places),
         "stopped": sorted(row.stopped), "number": row.number}
        for row in rows(stricter)
    ]


def is_expected_ache(report: Report) -> bool:
    """A dull, mild ache of both calves or both soles that stopped nothing and is some days old at most: what new
    work brings. It is watched like everything else, and says so.

    >>> is_expected_ache(Report(("L-calf", "R-calf"), ("dull",), 2)), is_expected_ache(Report(("L-calf",), ("dull",)))
    (True, False)
    >>> is_expected_ache(Report(("L-heel", "R-heel"), ("dull",), 2))
    False
    """
    return (
        report.all_feels == {"dull"} and not report.all_signs and report.names <= WORKING_MUSCLES
        and is_on_both_sides(report.places) and report.intensity is not None and report.intensity <= MILD_TO
        and not report.note
        and report.stopped in ("", "nothing") and report.since in EXPECTED_SINCE and not is_stop_sign(report.asked)
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


def most_urgent(asked: Iterable[str]) -> str:
    """The most urgent of some answers; "" of none.

    >>> most_urgent(["watch", "doctor_today", "stop"]), most_urgent([])
    ('doctor_today', '')
    """
    return max(asked, key=URGENCY.index, default="")


def may_answer(kind: str, *, referred: str, may_overrule: bool) -> bool:
    """True where an answer of this kind closes the pain: of a referred one only a clinician's clearance does, or
    the owner, who may overrule, with a reason.

    >>> [may_answer(kind, referred="came_back", may_overrule=False) for kind in ("teacher", "clinician", "mistake")]
    [False, True, False]
    """
    if kind == BY_CLINICIAN:
        return True
    if kind == BY_OWNER:
        return may_overrule
    return not referred or may_overrule


# Why a health professional should see it; the reasons are found in progress/rules/pain_returns.py.
SEEN_TODAY, CAME_BACK, LASTS, BONE, GROWING = "seen_today", "came_back", "lasts", "bone", "growing"
# Those that one report can have by itself.
BY_ITSELF = ("", LASTS, BONE, GROWING)


def next_step(asked: str, *, referred: str = "", is_ache: bool = False, voice: Voice = PLAIN) -> tuple[str, str]:
    """(heading, sentence): what the teacher does now. Cautions, not advice for treatment; local rules come first.

    is_ache: an ache that new work brings (`is_expected_ache`).
    """
    gettext = voice.gettext
    if asked in SEEN_THE_SAME_DAY:
        return _same_day_step(asked, voice)
    if referred:
        return _referred_step(asked, referred, voice)
    if asked == STOP:
        return (
            gettext("Stop for today. Seated work and barre on flat feet only."),
            gettext(
                "Leave out whatever hurts; with a sore back or hip no bending back and no leg lifted high. Ask again "
                "before going home, and tell the parent today. If it comes back in another class or lasts over 7 "
                "days, a health professional should see it."
            ),
        )
    if is_ache:
        return (
            gettext("Leave out what hurts, and watch."),
            gettext(
                "Tired calves or soles on both sides after new work are expected. Tell the parent today. It stands on "
                "the list of the next class: ask there. If it turns sharp or one-sided, or lasts over 3 days, stop."
            ),
        )
    return (
        gettext("Leave out what hurts, and watch."),
        gettext(
            "Tell the parent today. It stands on the list of the next class: ask there. If it rises, lasts over "
            "7 days or turns sharp, stop."
        ),
    )


def _same_day_step(asked: str, voice: Voice) -> tuple[str, str]:
    gettext = voice.gettext
    if asked == EMERGENCY:
        return (
            gettext("Stop now. Ring the emergency number, then home."),
            gettext(
                "Do not move the child, and do not straighten anything. Somebody stays with the child and watches the "
                "breathing until help has come."
            ),
        )
    if asked == HEAD:
        return (
            gettext("Stop now. Keep still. Ring home. To be seen by a doctor today."),
            gettext(
                "Passed out, confused, sick, drowsy, a fit, double vision, weak or tingling arms or legs, fluid from "
                "ear or nose, a worse headache, or a painful neck after a fall: do not move the child, ring the "
                "emergency number. After a knock the class is over, even if it feels fine again. Somebody stays with "
                "the child until home has come."
            ),
        )
    return (
        gettext("Stop now. Ring home. To be seen by a doctor today."),
        gettext("Nothing more in class today. Somebody stays with the child until home has come."),
    )


def _referred_step(asked: str, referred: str, voice: Voice) -> tuple[str, str]:
    gettext = voice.gettext
    why = {
        CAME_BACK: gettext("It has come back."), LASTS: gettext("It has lasted over 7 days."),
        BONE: gettext("Sharp pain in one spot there, or pain in rest, is looked at before any rise or jump."),
        GROWING: gettext("Heels or shins that hurt on both sides are looked at while a child grows."),
        SEEN_TODAY: gettext("There was a sign for a doctor on the same day."),
    }[referred]
    if is_stop_sign(asked):
        heading = gettext("Stop for today. A health professional should see it.")
        what = gettext("Tell the parent today. Seated work and barre on flat feet only, until it has been seen.")
    else:
        heading = gettext("No rises, no jumps. A health professional should see it.")
        what = gettext("Tell the parent today, and leave out what hurts until it has been seen.")
    return heading, f"{why} {what}"


def names_of(places: Collection[str]) -> frozenset[str]:
    """The places without their sides.

    >>> sorted(names_of(["L-heel", "R-heel", "back"]))
    ['back', 'heel']
    """
    return Report(tuple(places)).names
