"""What a class, and each student, might work on, and why; who shares a need. Pure; the teacher decides.

The shares and numbers are the studio's own rules: no published way from a screening to a class's programme was found.
"""
from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from studio.voice import PLAIN, Voice

STALL, NO_GAIN, FAULT, BEHIND = "stall", "no_gain", "fault", "behind"
ORDER = (STALL, NO_GAIN, FAULT, BEHIND)
# A class works on what a third of it shares, and never on what fewer than three do.
SHARED, FEWEST_SHARING = 1 / 3, 3
# A fault seen once may be one bad day.
FAULT_SEEN = 2
# A barre has room for little that is new at once.
MOST_FOR_CLASS, MOST_FOR_STUDENT, MOST_A_NEED = 4, 2, 2
# What is suggested to one student alone; a fault alone is better worked on in a group.
HER_OWN = (NO_GAIN, BEHIND)


@dataclass(frozen=True)
class Seen:
    """What is known of one student in one measure. no_gain: sides stalled or slipping ("" without sides);
    behind: the foot well behind the other, or ""; faults: fault -> how often in this term's results."""

    student: Hashable
    measure: str
    no_gain: tuple[str, ...] = ()
    behind: str = ""
    faults: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Offer:
    """An exercise of the catalogue, in its order. serves: (measure, fault); an empty fault is the whole strand."""

    exercise: Hashable
    serves: Collection[tuple[str, str]]
    each_foot: bool = False


@dataclass(frozen=True)
class Need:
    """Something to work on, and who shares it. detail: the fault, or the foot; of: how many were seen in it."""

    kind: str
    measure: str
    detail: str
    students: tuple[Hashable, ...]
    of: int


@dataclass(frozen=True)
class Suggestion:
    exercise: Hashable
    need: Need


def student_needs(seen: Iterable[Seen]) -> list[Need]:
    """Return the needs of each student alone, no gain first, then faults, then a foot behind.

    >>> [(need.kind, need.detail) for need in student_needs([Seen("Ama", "rises", ("L",), "L", {"wobble": 3})])]
    [('no_gain', 'L'), ('fault', 'wobble'), ('behind', 'L')]
    """
    found = []
    for each in seen:
        if each.no_gain:
            side = each.no_gain[0] if len(each.no_gain) == 1 else ""
            found.append(Need(NO_GAIN, each.measure, side, (each.student,), 1))
        found += [
            Need(FAULT, each.measure, fault, (each.student,), 1)
            for fault, times in each.faults.items() if times >= FAULT_SEEN
        ]
        if each.behind:
            found.append(Need(BEHIND, each.measure, each.behind, (each.student,), 1))
    return sorted(found, key=lambda need: ORDER.index(need.kind))


def shared_needs(seen: Sequence[Seen], *, stalled: Mapping[str, Collection[Hashable]] | None = None) -> list[Need]:
    """Return what students have in common, most urgent kind first, then by how many share it.

    stalled: measure -> members of a class-wide stall; those are no need of a single child's. A foot behind is
    shared by side.
    """
    stalled = stalled or {}
    of: dict[str, int] = {}
    for each in seen:
        of[each.measure] = of.get(each.measure, 0) + 1
    members: dict[tuple[str, str, str], list[Hashable]] = {}
    for need in student_needs(seen):
        if need.kind != NO_GAIN or need.measure not in stalled:
            detail = "" if need.kind == NO_GAIN else need.detail
            members.setdefault((need.kind, need.measure, detail), []).extend(need.students)
    found = [Need(STALL, m, "", tuple(who), of.get(m, len(who))) for m, who in stalled.items()]
    found += [Need(kind, m, detail, tuple(who), of[m]) for (kind, m, detail), who in members.items()]
    return sorted(found, key=lambda need: (ORDER.index(need.kind), -len(need.students)))


# So many students, and so large a share of those measured, stand still at once: a question to the programme, although
# the judge has not called it the class's yet. The studio's own rule.
FEWEST_STANDING_STILL, STANDING_STILL = 4, 0.4


def is_shared_stall(stalled: int, of: int) -> bool:
    """True where a stall is no child's own: of `of` measured students `stalled` stand still in one measure.

    >>> is_shared_stall(4, 10), is_shared_stall(4, 11), is_shared_stall(3, 3)
    (True, False, False)
    """
    return stalled >= FEWEST_STANDING_STILL and stalled >= STANDING_STILL * of


def is_of_class(need: Need) -> bool:
    """True for what a class as a whole should work on.

    >>> is_of_class(Need("fault", "rises", "wobble", ("Ama", "Bo", "Cy"), 9)), is_of_class(
    ...     Need("fault", "rises", "wobble", ("Ama", "Bo"), 4))
    (True, False)
    """
    if need.kind == STALL:
        return True
    return need.kind != BEHIND and len(need.students) >= max(FEWEST_SHARING, SHARED * need.of)


def suggestions(
    needs: Iterable[Need], offers: Sequence[Offer], *, planned: Collection[Hashable] = (), most: int,
    seen_faults: Mapping[str, Collection[str]] | None = None, a_need: int = MOST_A_NEED,
) -> list[Suggestion]:
    """Return at most `most` exercises for the needs in their order, at most `a_need` for one, each once.

    planned: exercises that are in the programme already; seen_faults: measure -> faults seen, so that an exercise
    that answers one of them comes first. For a foot behind only exercises done foot by foot are offered.

    >>> offers = [Offer("slow", [("rises", "")]), Offer("press", [("rises", ""), ("rises", "wobble")])]
    >>> need = Need("no_gain", "rises", "", ("Ama",), 1)
    >>> [s.exercise for s in suggestions([need], offers, planned=(), most=2, seen_faults={"rises": ["wobble"]})]
    ['press', 'slow']
    """
    faults, taken, found = seen_faults or {}, set(planned), []
    for need in needs:
        wanted = (need.measure, need.detail if need.kind == FAULT else "")
        fitting = [
            offer for offer in offers
            if wanted in _pairs(offer) and offer.exercise not in taken and (need.kind != BEHIND or offer.each_foot)
        ]
        # For one foot foot by foot first; then what answers a fault that was seen; else in the catalogue's order.
        is_one_foot = need.detail in ("L", "R")
        fitting.sort(key=lambda offer: (
            is_one_foot and not offer.each_foot, not _answers(offer, need.measure, faults.get(need.measure, ()))
        ))
        for offer in fitting[:a_need]:
            taken.add(offer.exercise)
            found.append(Suggestion(offer.exercise, need))
    return found[:most]


def _pairs(offer: Offer) -> set[tuple[str, str]]:
    return {(measure, fault) for measure, fault in offer.serves}


def _answers(offer: Offer, measure: str, faults: Collection[str]) -> bool:
    return any((measure, fault) in _pairs(offer) for fault in faults)


def groups(needs: Iterable[Need], *, resting: Collection[Hashable] = ()) -> list[Need]:
    """Return who trains what together: every student in one group, the largest first, two or more in each.

    A stall of the whole class is no group, and a student who rests is in none.

    >>> wobble, gap = Need("fault", "rises", "wobble", ("Ama", "Bo", "Cy"), 9), Need("no_gain", "rises", "", ("Bo",), 9)
    >>> [(each.kind, each.students) for each in groups([gap, wobble], resting=["Cy"])]
    [('fault', ('Ama', 'Bo'))]
    """
    open_needs = [need for need in needs if need.kind != STALL]
    placed, found = set(resting), []
    while True:
        left = [(need, tuple(s for s in need.students if s not in placed)) for need in open_needs]
        need, who = max(left, key=lambda each: len(each[1]), default=(None, ()))
        if len(who) < 2:
            return found
        placed.update(who)
        found.append(Need(need.kind, need.measure, need.detail, who, need.of))


def why(
    need: Need, *, voice: Voice = PLAIN, names: Mapping[str, str] | None = None,
    faults: Mapping[str, str] | None = None,
) -> str:
    """Return the reason as a sentence. names: measure -> its word; faults: fault -> its translation.

    >>> why(Need("fault", "rises", "wobble", ("Ama", "Bo", "Cy"), 9))
    'In rises, “wobble” was seen again and again in 3 of 9 students.'
    """
    words = {
        "measure": (names or {}).get(need.measure, need.measure), "count": len(need.students), "of": need.of,
        "fault": (faults or {}).get(need.detail, need.detail),
    }
    is_one = len(need.students) == 1
    if need.kind == STALL:
        text = voice.gettext("Most of the class has stalled in %(measure)s.")
    elif need.kind == FAULT:
        text = (
            voice.gettext("In %(measure)s, “%(fault)s” was seen again and again.") if is_one else
            voice.gettext("In %(measure)s, “%(fault)s” was seen again and again in %(count)s of %(of)s students.")
        )
    elif need.kind == BEHIND:
        text = {
            "L": voice.gettext("In %(measure)s the left foot is well behind: left first, one set more."),
            "R": voice.gettext("In %(measure)s the right foot is well behind: right first, one set more."),
        }[need.detail]
    elif is_one:
        text = {
            "L": voice.gettext("In %(measure)s the left foot shows no gain now."),
            "R": voice.gettext("In %(measure)s the right foot shows no gain now."),
            "": voice.gettext("In %(measure)s there is no gain now."),
        }[need.detail]
    else:
        text = voice.gettext("In %(measure)s, %(count)s of %(of)s students show no gain now.")
    return text % words


def topic(need: Need, *, names: Mapping[str, str] | None = None, faults: Mapping[str, str] | None = None) -> str:
    """Return what a group works on, in a word or two that judge nobody: "rises: wobble".

    >>> topic(Need("fault", "rises", "wobble", (), 0)), topic(Need("no_gain", "rises", "", (), 0))
    ('rises: wobble', 'rises')
    """
    name = (names or {}).get(need.measure, need.measure)
    return f"{name}: {(faults or {}).get(need.detail, need.detail)}" if need.kind == FAULT else name
