"""How much of an exercise: sets, repetitions, seconds held; and what was done of it. Pure: knows no Django."""
from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from studio.voice import PLAIN, Voice

LOST, CORRECTED, CLEAN = "lost", "corrected", "clean"
CONTROLS = (LOST, CORRECTED, CLEAN)
AS_PLANNED, LEFT_OUT = "as_planned", "left_out"
# A dose never breaks over two lines.
FIRM = "\u00a0"
# More than this is a slip of the finger; the widest plausible class work is 5 sets of 30 (common practice, no source).
MOST_SETS, MOST_REPS, MOST_SECONDS = 10, 100, 120


@dataclass(frozen=True)
class Dose:
    """`sets` of `reps`; hold_seconds: how long each is held, None where it is not. Counts are for each foot."""

    sets: int
    reps: int
    hold_seconds: int | None = None

    @property
    def repetitions(self) -> int:
        return self.sets * self.reps

    def covers(self, planned: Dose) -> bool:
        """True where at least as much was done as `planned`.

        >>> Dose(3, 8).covers(Dose(2, 12)), Dose(2, 11).covers(Dose(2, 12)), Dose(3, 1, 8).covers(Dose(3, 1, 10))
        (True, False, False)
        """
        held = (self.hold_seconds or 0) >= (planned.hold_seconds or 0)
        return held and self.repetitions >= planned.repetitions


def write_dose(dose: Dose, *, each_foot: bool = False, voice: Voice = PLAIN) -> str:
    """Return a dose as it stands on the card.

    >>> doses = write_dose(Dose(2, 12)), write_dose(Dose(3, 1, 10), each_foot=True), write_dose(Dose(2, 10, 5))
    >>> [each.replace(FIRM, " ") for each in doses]
    ['2 × 12', '3 × 10 s each foot', '2 × 10 × 5 s']
    >>> write_dose(Dose(0, 0))
    'left out'
    """
    if dose.repetitions == 0:
        return voice.gettext("left out")
    words = {"sets": dose.sets, "reps": dose.reps, "seconds": dose.hold_seconds}
    if dose.hold_seconds and dose.reps == 1:
        text = voice.gettext("%(sets)s × %(seconds)s s") % words
    elif dose.hold_seconds:
        text = voice.gettext("%(sets)s × %(reps)s × %(seconds)s s") % words
    else:
        text = voice.gettext("%(sets)s × %(reps)s") % words
    text = text.replace(" ", FIRM)
    return voice.gettext("%(dose)s each foot") % {"dose": text} if each_foot else text


@dataclass(frozen=True)
class Practice:
    """What one student did of one exercise in one class: the dose done, the control, the faults seen."""

    dose: Dose
    control: str = CLEAN
    faults: tuple[str, ...] = ()

    @property
    def is_left_out(self) -> bool:
        return self.dose.repetitions == 0


def changed(practice: Practice, change: str, *, planned: Dose, faults: Iterable[str]) -> Practice:
    """Return what stands after one tap; ValueError for a tap that there is not.

    change: "as_planned", "left_out", "control:lost", "fault:wobble" (again takes it away), "sets:1", "reps:6",
    "seconds:8"; planned: this student's dose; faults: those the exercise knows. A fault is not clean; what is
    graded clean has none.

    >>> seen = changed(Practice(Dose(2, 8)), "fault:wobble", planned=Dose(2, 8), faults=["wobble"])
    >>> seen.control, seen.faults
    ('corrected', ('wobble',))
    >>> changed(seen, "sets:1", planned=Dose(2, 8), faults=["wobble"]).dose
    Dose(sets=1, reps=8, hold_seconds=None)
    """
    what, _colon, value = change.partition(":")
    if change == AS_PLANNED:
        return Practice(planned)
    if change == LEFT_OUT:
        return Practice(Dose(0, 0), "")
    here = Practice(planned) if practice.is_left_out else practice
    if what == "control" and value in CONTROLS:
        return replace(here, control=value, faults=() if value == CLEAN else here.faults)
    if what == "fault" and value in faults:
        return _with_fault(here, value)
    limit = {"sets": MOST_SETS, "reps": MOST_REPS, "seconds": MOST_SECONDS}.get(what)
    if limit is None or not (value.isascii() and value.isdecimal() and len(value) <= 3 and 0 < int(value) <= limit):
        raise ValueError(change)
    field = "hold_seconds" if what == "seconds" else what
    return replace(here, dose=replace(here.dose, **{field: int(value)}))


def _with_fault(here: Practice, fault: str) -> Practice:
    if fault in here.faults:
        left = tuple(each for each in here.faults if each != fault)
        return replace(here, faults=left, control=here.control if left or here.control == LOST else CLEAN)
    return replace(here, faults=(*here.faults, fault), control=CORRECTED if here.control == CLEAN else here.control)


def write_practice(
    practice: Practice, planned: Dose, *, faults: dict[str, str] | None = None, voice: Voice = PLAIN
) -> str:
    """Return what was done as it stands in the log: only what differs from plan. faults: fault -> its translation.

    >>> plan = Dose(2, 8)
    >>> write_practice(Practice(plan), plan), write_practice(Practice(plan, "corrected", ("wobble",)), plan)
    ('as planned', 'corrected, wobble')
    """
    if practice.is_left_out:
        return voice.gettext("left out")
    words = [] if practice.dose == planned else [write_dose(practice.dose, voice=voice)]
    words += {LOST: [voice.gettext("lost")], CORRECTED: [voice.gettext("corrected")]}.get(practice.control, [])
    words += [(faults or {}).get(fault, fault) for fault in practice.faults]
    return ", ".join(words) or voice.gettext("as planned")
