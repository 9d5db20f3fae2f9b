"""Reads who rests, from what and why: pain that nobody answered, or a step on the way back."""
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from functools import cache

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.models import PainReport, ReturnLadder, ReturnStep
from progress.rules.pain import DOCTOR_TODAY, STOP_SIGNS
from progress.rules.resting import BOTH, NOTHING, ONE, UNLOADED, Rest
from screening.models import Measure
from studio.family.queries import consented
from studio.models import Consent

__all__ = [
    "excused", "from_rising", "ladder_in_force", "left_out", "rest_words", "resting_students", "rests", "steps_of",
]


@cache
def _first_ladder() -> tuple[dict[str, str], ...]:
    script = json.loads((settings.BASE_DIR / "fixtures" / "return_ladder.json").read_text(encoding="utf-8"))
    return tuple(script["steps"])


def ladder_in_force() -> ReturnLadder:
    """The owner's newest ladder; until there is one, the first one, not kept yet."""
    return ReturnLadder.objects.last() or ReturnLadder(steps=[dict(step) for step in _first_ladder()])


def steps_of(student_ids: Iterable[int]) -> dict[int, ReturnStep]:
    """The latest step of each student who was ever put on one."""
    rows = ReturnStep.objects.filter(student__in=student_ids).select_related("ladder").order_by("pk")
    return {row.student_id: row for row in rows}


def rests(student_ids: Iterable[int], *, told: Collection[int] | None = None) -> dict[int, Rest]:
    """What each of them rests from today; who may do everything is left out. Three questions, however many students.

    told: those of whose pain may be told, where the caller knows.
    Unanswered stop signs come first; then the step on which she comes back. Without consent to pain notes she
    rests all the same, and no page says why.
    """
    ids = list(student_ids)
    found = {
        pk: _on_step(step) for pk, step in steps_of(ids).items() if not step.is_full_class
    }
    waiting = PainReport.objects.unanswered().filter(student__in=ids, asks__in=STOP_SIGNS)
    for pk, asked, on in waiting.order_by("-reported_on", "-pk").values_list("student_id", "asks", "reported_on"):
        before = found.get(pk)
        everything = asked == DOCTOR_TODAY or (before is not None and before.allows == NOTHING)
        words = _("rests from class") if everything else _("rest from rising")
        found[pk] = Rest(NOTHING if everything else UNLOADED, words, on, is_pain=True)
    if told is None:
        told = consented(found, Consent.PAIN, timezone.now()) if found else ()
    return {pk: rest if pk in told else _untold(rest) for pk, rest in found.items()}


def left_out(student_ids: Iterable[int]) -> dict[int, Rest]:
    """Whom nobody measures: who rests, and whose family has not agreed to measurements."""
    ids = set(student_ids)
    now = timezone.now()
    silent = ids - consented(ids, Consent.MEASUREMENTS, now)
    not_asked = Rest(NOTHING, _("not asked"), timezone.localdate(now), is_pain=False, is_told=False)
    return rests(ids) | dict.fromkeys(silent, not_asked)


def rest_words(rest: Rest) -> str:
    """At the barre, where children see it: a rest is a rest, and of everything else nobody is told why."""
    return _("rest from rising") if rest.is_told else rest.words


def _untold(rest: Rest) -> Rest:
    return replace(rest, words=_("not asked"), is_pain=False, is_told=False)


def _on_step(step: ReturnStep) -> Rest:
    words = _("step %(number)s of %(of)s: %(words)s") % {
        "number": step.step, "of": step.ladder.last, "words": _(step.words),
    }
    return Rest({"": UNLOADED, "both": BOTH, "one": ONE}[step.loads], words, step.on, is_pain=False)


def excused(found: Mapping[int, Rest], measure: Measure) -> dict[int, Rest]:
    """Those of them who leave this measure out."""
    return {pk: rest for pk, rest in found.items() if rest.forbids(loads_foot=measure.loads_foot)}


def from_rising(found: Mapping[int, Rest]) -> set[int]:
    """Those of them who leave out measures that load one foot."""
    return {pk for pk, rest in found.items() if rest.forbids(loads_foot=True)}


def resting_students(student_ids: Iterable[int]) -> set[int]:
    """Those who rest from measures that load one foot."""
    return from_rising(rests(student_ids))
