"""What a student may do while she rests or comes back in steps: one rule for sheets, class log and programme.

Pure: knows no Django, no database and no pain history.
"""
import datetime as dt
from dataclasses import dataclass

# What a rest allows, from the strictest on: nothing at all, nothing that loads the foot, two feet, one foot too.
NOTHING, UNLOADED, BOTH, ONE = "nothing", "", "both", "one"


@dataclass(frozen=True)
class Rest:
    """`allows`: one of the words above; `words`: said beside the name; `since`: its day; `is_pain`: unanswered pain,
    otherwise a step on the way back. Not `is_told`: nobody agreed to pain notes, so no page says why."""

    allows: str
    words: str
    since: dt.date
    is_pain: bool
    is_told: bool = True

    def forbids(self, *, loads_foot: bool, both_feet: bool = False) -> bool:
        """True where she leaves out an exercise or a measure. `both_feet`: its load is shared by two feet.

        >>> rest = Rest(BOTH, "step 3 of 8", dt.date(2031, 3, 3), is_pain=False)
        >>> rest.forbids(loads_foot=False), rest.forbids(loads_foot=True, both_feet=True), rest.forbids(loads_foot=True)
        (False, False, True)
        >>> Rest(NOTHING, "rests from class", dt.date(2031, 3, 3), is_pain=True).forbids(loads_foot=False)
        True
        """
        if self.allows == NOTHING:
            return True
        if not loads_foot:
            return False
        return self.allows != ONE and not (self.allows == BOTH and both_feet)
