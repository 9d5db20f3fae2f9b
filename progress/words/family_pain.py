"""What a family is told of pain: what was said and when, what was done, who should look at it, what not at home.

Pure: knows no Django, no clock and no other child. It never judges and never names an injury.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from progress.rules.pain import EMERGENCY, HEAD, SEEN_THE_SAME_DAY, is_stop_sign
from progress.rules.resting import ALL, NO_RISES, NOTHING, may_do, rank
from studio.voice import PLAIN, Voice


@dataclass(frozen=True)
class Hurt:
    """A report of pain that somebody still sees to. words: "Sharp, pin-point, left heel"; stopped: a key of STOPPED;
    told_on: when somebody at home was told."""

    on: date
    words: str
    stopped: str = ""
    told_on: date | None = None


@dataclass(frozen=True)
class Pain:
    """All that is open about one child, and what follows from it; as far as the family may be told.

    asks: the most urgent answer of its reports, "" without any; is_referred: a health professional should see it;
    allows: a key of ALLOWANCES; on_way_back: a clinician cleared it, and class begins again in steps; said: what the
    clinician allowed, in the clinician's own words; today, next_class, phone: nothing where it is not known.
    """

    hurts: tuple[Hurt, ...] = ()
    asks: str = ""
    is_referred: bool = False
    allows: str = ALL
    on_way_back: bool = False
    said: str = ""
    today: date | None = None
    next_class: date | None = None
    phone: str = ""

    @property
    def is_resting(self) -> bool:
        return self.allows != ALL

    @property
    def is_open(self) -> bool:
        return bool(self.hurts) or self.is_resting


NO_PAIN = Pain()


def pain_heading(pain: Pain, voice: Voice = PLAIN) -> str:
    return voice.gettext("What hurt") if pain.hurts else voice.gettext("The way back into class")


def pain_sentences(pain: Pain, voice: Voice = PLAIN) -> tuple[str, ...]:
    """Each report with its day, then who should look at it and by when, then what is asked of the family.

    >>> hurt = Hurt(date(2031, 3, 3), "Limps, left heel", "class")
    >>> told = pain_sentences(Pain((hurt,), "doctor_today", allows="nothing", today=date(2031, 3, 3)))
    >>> print(told[0])
    3 March: limps, left heel. That was the end of class that day.
    >>> print(told[1])
    Please have it looked at by a doctor today, and before the next class in any case.
    """
    if not pain.is_open:
        return ()
    say = voice.gettext
    told = [_told(hurt, voice) for hurt in sorted(pain.hurts, key=lambda hurt: hurt.on)]
    if pain.hurts:
        told += _look_at_it(pain, voice)
    if pain.on_way_back:
        told += _way_back(pain, voice)
    if pain.next_class is not None and pain.hurts:
        told.append(say("The next class is on %(day)s.") % {"day": voice.day(pain.next_class)})
    if pain.phone:
        told.append(say("You can reach the studio on %(phone)s.") % {"phone": pain.phone})
    return tuple(told)


def _told(hurt: Hurt, voice: Voice) -> str:
    say = voice.gettext
    parts = [say("%(day)s: %(words)s.") % {"day": voice.day(hurt.on), "words": hurt.words[:1].lower() + hurt.words[1:]}]
    parts.append({
        "changed": say("The exercise was made easier."), "exercise": say("The exercise was stopped."),
        "class": say("That was the end of class that day."),
    }.get(hurt.stopped, ""))
    if hurt.told_on is not None:
        parts.append(say("Home was told on %(day)s.") % {"day": voice.day(hurt.told_on)})
    return " ".join(filter(None, parts))


def _look_at_it(pain: Pain, voice: Voice) -> list[str]:
    """Who should see it and by when, as plainly as the studio's own list says it."""
    say = voice.gettext
    tell = say("Please tell us what was found and what is allowed.")
    if pain.asks in SEEN_THE_SAME_DAY:
        is_today = pain.today is not None and any(hurt.on == pain.today for hurt in pain.hurts)
        by = (say("Please have it looked at by a doctor today, and before the next class in any case.") if is_today else
              say("If no doctor has seen it yet, please go today, and before the next class in any case."))
        if pain.asks in (HEAD, EMERGENCY):
            danger = say("Ring the emergency number at once if your child is hard to wake, vomits, is confused, has a "
                         "fit, a headache that grows, or no strength in arms or legs. Do not leave your child alone "
                         "tonight, and no sport until a doctor allows it.")
            return [by, danger, tell]
        return [by, tell]
    if pain.is_referred:
        by = say("Please have it looked at by a doctor or another health professional, before the next class.")
        return [by, tell]
    if is_stop_sign(pain.asks):
        return [
            say("No rises and no jumps until that is settled with us."),
            say("If it comes back, hurts more or lasts over seven days, please have it looked at by a doctor or "
                "another health professional."),
        ]
    return [
        say("We ask about it in the next class. Please tell us how it is at home."),
        say("If it turns sharp, hurts more or lasts over seven days, please have it looked at by a doctor or another "
            "health professional."),
    ]


def _way_back(pain: Pain, voice: Voice) -> list[str]:
    say = voice.gettext
    told = [
        say("It has been seen and class begins again in steps, each after a class without pain."),
        say("In class now: %(what)s.") % {"what": may_do(pain.allows, voice)},
    ]
    if pain.said:
        told.append(say("Allowed by the clinician: %(what)s.") % {"what": pain.said.rstrip(".")})
    return told


def not_at_home(pain: Pain, voice: Voice = PLAIN) -> tuple[str, ...]:
    """What is left out at home: every exercise of the family's list loads each part from the toes to the back, so
    while something hurts none is offered.

    >>> not_at_home(Pain(allows="nothing"))[0]
    'No dancing, no sport, no rises and no jumps at home until a doctor has seen it.'
    >>> not_at_home(NO_PAIN)
    ()
    """
    if not pain.is_open:
        return ()
    say = voice.gettext
    if pain.allows == NOTHING:
        first = say("No dancing, no sport, no rises and no jumps at home until a doctor has seen it.")
    elif rank(pain.allows) <= rank(NO_RISES):
        first = say("No rises, no jumps and no pointe shoes at home for now.")
    elif pain.is_resting:
        first = say("At home only what is already done in class: no jumps and no pointe shoes.")
    else:
        first = say("Nothing at home that hurts: no rises and no standing on one foot for practice.")
    return first, say("Ask us before practice at home starts again.")
