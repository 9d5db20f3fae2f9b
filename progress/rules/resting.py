"""What a student may do now: one rule for sheets, runs, class log, programme, pages and papers.

Pure: knows no Django, no database and no pain history.
"""
import datetime as dt
from dataclasses import dataclass

from studio.voice import PLAIN, Voice

# What is allowed, from the strictest on. "both" and "one" are steps of the way back: rises on two feet, on one foot.
NOTHING, SEATED, NO_RISES, BOTH, ONE, SMALL_JUMPS, NO_POINTE, ALL = (
    "nothing", "seated", "no_rises", "both", "one", "small_jumps", "no_pointe", "all",
)
ALLOWANCES = (NOTHING, SEATED, NO_RISES, BOTH, ONE, SMALL_JUMPS, NO_POINTE, ALL)
# What an exercise or a measure asks of the foot.
UNLOADED, TWO_FEET, ONE_FOOT, JUMPS_ON_TWO, JUMPS_ON_ONE = "unloaded", "two_feet", "one_foot", "jumps_two", "jumps_one"
_UNLOADED = frozenset({UNLOADED})
_JUMPS = frozenset({UNLOADED, TWO_FEET, ONE_FOOT, JUMPS_ON_TWO, JUMPS_ON_ONE})
PERMITS = {
    NOTHING: frozenset(),
    SEATED: _UNLOADED,
    NO_RISES: _UNLOADED,
    BOTH: frozenset({UNLOADED, TWO_FEET}),
    ONE: frozenset({UNLOADED, TWO_FEET, ONE_FOOT}),
    SMALL_JUMPS: _JUMPS - {JUMPS_ON_ONE},
    NO_POINTE: _JUMPS,
    ALL: _JUMPS,
}
# What a step of the way back says that it loads. "small", "jumps" and "pointe" came later than the other three:
# ladders kept before know none of them, and jumps wait for full class there.
STEP_ALLOWS = {
    "nothing": NOTHING,
    "": SEATED, "both": BOTH, "one": ONE, "small": SMALL_JUMPS, "jumps": NO_POINTE, "pointe": NO_POINTE, "all": ALL,
}

def work_of(*, loads_foot: bool, each_foot: bool, is_jump: bool) -> str:
    """What an exercise or a measure asks of the foot; `each_foot`: not shared by two feet.

    >>> work_of(loads_foot=True, each_foot=True, is_jump=False)
    'one_foot'
    """
    if is_jump:
        return JUMPS_ON_ONE if each_foot else JUMPS_ON_TWO
    if not loads_foot:
        return UNLOADED
    return ONE_FOOT if each_foot else TWO_FEET


@dataclass(frozen=True)
class Rest:
    """`allows`: one of ALLOWANCES; `words`: said beside the name; `since`: its day; `is_pain`: pain that is open,
    otherwise a step on the way back. Not `is_told`: nobody agreed to pain notes, so no page says why.

    why: what it is for, for staff; until: what ends it; said: what a clinician allowed, in the clinician's words.
    """

    allows: str
    words: str
    since: dt.date
    is_pain: bool
    is_told: bool = True
    why: str = ""
    until: str = ""
    said: str = ""

    def forbids(self, work: str) -> bool:
        """True where the student leaves out an exercise or a measure that asks this of the foot (`work_of`).

        >>> rest = Rest(BOTH, "step 3 of 8", dt.date(2031, 3, 3), is_pain=False)
        >>> rest.forbids(UNLOADED), rest.forbids(TWO_FEET), rest.forbids(ONE_FOOT)
        (False, False, True)
        >>> Rest(NOTHING, "rests from class", dt.date(2031, 3, 3), is_pain=True).forbids(UNLOADED)
        True
        """
        return work not in PERMITS[self.allows]


def rank(allows: str) -> int:
    """From 0, nothing, on."""
    return ALLOWANCES.index(allows)


def stricter(one: Rest | None, other: Rest | None) -> Rest | None:
    """The one that allows less; of two that allow the same the first; None where there is neither."""
    if one is None or other is None:
        return one or other
    return other if rank(other.allows) < rank(one.allows) else one


def may_do(allows: str, voice: Voice = PLAIN) -> str:
    """What the student may do now, in a few words.

    >>> may_do(NO_RISES), may_do(ALL)
    ('everything but rises and jumps', 'everything')
    """
    gettext = voice.gettext
    return {
        NOTHING: gettext("nothing today"),
        SEATED: gettext("seated work and barre on flat feet only"),
        NO_RISES: gettext("everything but rises and jumps"),
        BOTH: gettext("rises on two feet; no jumps"),
        ONE: gettext("rises on one foot too; no jumps"),
        SMALL_JUMPS: gettext("small jumps on two feet only"),
        NO_POINTE: gettext("everything but pointe work"),
        ALL: gettext("everything"),
    }[allows]
