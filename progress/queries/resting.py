"""Reads who rests, from what and why: pain that nobody answered, or a step on the way back."""
import datetime as dt
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from functools import cache

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _

from progress.models import FollowUp, PainReport, ReturnLadder, ReturnStep
from progress.rules.pain import SEEN_THE_SAME_DAY, STOP_SIGNS
from progress.rules.resting import NO_RISES, NOTHING, ONE_FOOT, SEATED, Rest, stricter, work_of
from screening.models import Measure
from studio.family.queries import consented
from studio.models import Consent


@cache
def _first_ladder() -> tuple[dict[str, str], ...]:
    script = json.loads((settings.BASE_DIR / "fixtures" / "return_ladder.json").read_text(encoding="utf-8"))
    return tuple(script["steps"])


def ladder_in_force() -> ReturnLadder:
    """The owner's newest ladder; until there is one, the first one, not kept yet."""
    return ReturnLadder.objects.last() or ReturnLadder(steps=[dict(step) for step in _first_ladder()])


def steps_of(student_ids: Iterable[int]) -> dict[int, ReturnStep]:
    """The latest step of each student who was ever put on one."""
    rows = ReturnStep.objects.filter(student__in=student_ids).select_related("ladder", "clearance").order_by("pk")
    return {row.student_id: row for row in rows}


def rests(student_ids: Iterable[int], *, now: dt.datetime, told: Collection[int] | None = None) -> dict[int, Rest]:
    """What each of them rests from today; who may do everything is left out. Four questions, however many students.

    told: those of whose pain may be told, where the caller knows.
    Of unanswered stop signs, pain that is to be seen and the step on the way back the strictest holds. Without
    consent to pain notes the student rests all the same, and no page says why.
    """
    ids = list(student_ids)
    found: dict[int, Rest] = {pk: _on_step(step) for pk, step in steps_of(ids).items() if not step.is_full_class}
    waiting = PainReport.objects.unanswered().filter(student__in=ids, asks__in=STOP_SIGNS)
    for pk, asked, on in waiting.order_by("reported_on", "pk").values_list("student_id", "asks", "reported_on"):
        found[pk] = stricter(found.get(pk), _from_sign(asked, on))
    # A stop sign that came back in a mild report is one to be seen as well.
    to_be_seen = FollowUp.objects.filter(
        student__in=ids, kind__in=[FollowUp.STOP_SIGN, FollowUp.PAIN_LASTS], closed_at__isnull=True
    )
    for pk, on in to_be_seen.values_list("student_id", "opened_on"):
        found[pk] = stricter(found.get(pk), _to_be_seen(on))
    if told is None:
        told = consented(found, Consent.PAIN, now) if found else ()
    return {pk: rest if pk in told else _untold(rest) for pk, rest in found.items()}


def left_out(student_ids: Iterable[int], *, now: dt.datetime) -> dict[int, Rest]:
    """Whom nobody measures: who rests, and whose family has not agreed to measurements."""
    ids = set(student_ids)
    silent = ids - consented(ids, Consent.MEASUREMENTS, now)
    not_asked = Rest(NOTHING, _("not asked"), timezone.localdate(now), is_pain=False, is_told=False)
    return rests(ids, now=now) | dict.fromkeys(silent, not_asked)


def rest_words(rest: Rest) -> str:
    """At the barre, where children see it: a rest is a rest, and of everything else nobody is told why."""
    return _("no rises for now") if rest.is_told else rest.words


def _untold(rest: Rest) -> Rest:
    return replace(rest, words=_("not asked"), is_pain=False, is_told=False)


def _from_sign(asked: str, on: dt.date) -> Rest:
    until = _("the follow-up is closed, by you or with a clinician’s note")
    if asked in SEEN_THE_SAME_DAY:
        return Rest(NOTHING, _("nothing for now"), on, True, why=_("to be seen by a doctor"), until=until)
    return Rest(SEATED, _("no rises for now"), on, True, why=_("a stop sign"), until=until)


def _to_be_seen(on: dt.date) -> Rest:
    until = _("a clinician has cleared it")
    return Rest(NO_RISES, _("no rises for now"), on, True, why=_("a health professional should see it"), until=until)


def _on_step(step: ReturnStep) -> Rest:
    words = _("step %(number)s of %(of)s: %(words)s") % {
        "number": step.step, "of": step.ladder.last, "words": _(step.words),
    }
    said = step.clearance.allowed if step.clearance else ""
    return Rest(step.allows, words, step.on, False, why=_("on the way back"), until=_("full class"), said=said)


def measure_work(measure: Measure) -> str:
    """What a measure asks of the foot: those that load it are done on one."""
    return work_of(loads_foot=measure.loads_foot, each_foot=True, is_jump=measure.is_jump)


def excused(found: Mapping[int, Rest], measure: Measure) -> dict[int, Rest]:
    """The students whose rest leaves this measure out, with their rests."""
    return {pk: rest for pk, rest in found.items() if rest.forbids(measure_work(measure))}


def from_rising(found: Mapping[int, Rest]) -> set[int]:
    """The students whose rest leaves out measures that load one foot."""
    return {pk for pk, rest in found.items() if rest.forbids(ONE_FOOT)}


def resting_students(student_ids: Iterable[int], *, now: dt.datetime) -> set[int]:
    """Those who rest from measures that load one foot."""
    return from_rising(rests(student_ids, now=now))
