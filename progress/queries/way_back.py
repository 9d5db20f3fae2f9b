"""Reads the way back into class: which steps a student's stage has, what was allowed, and which class may count."""
import datetime as dt

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from progress.models import Attendance, ClassLog, PainAnswer, ReturnLadder, ReturnStep
from progress.rules import way_back
from studio.models import Student
from studio.templatetags.wording import day as write_day

ON_POINTE = ("first-year", "on-pointe")


def is_on_pointe(student: Student) -> bool:
    return student.stage is not None and student.stage.key in ON_POINTE


def loads_of(ladder: ReturnLadder) -> list[str]:
    return [step["loads"] for step in ladder.steps]


def steps_to_show(ladder: ReturnLadder, student: Student) -> list[tuple[int, dict[str, str]]]:
    """(number, step) of the steps that the student's stage has."""
    shown = way_back.steps_for(loads_of(ladder), on_pointe=is_on_pointe(student))
    return [(at, ladder.steps[at]) for at in shown]


def classes_since(student: Student, now: ReturnStep, today: dt.date) -> QuerySet[ClassLog]:
    """The logged classes that the student was in since their last step, the latest first."""
    came = Attendance.objects.in_force().filter(student=student, is_present=True, log__held_on__gt=now.on)
    logs = ClassLog.objects.filter(pk__in=came.values("log"), held_on__lte=today)
    return logs.select_related("class_group").order_by("-held_on", "pk")


def may_go_up(student: Student, now: ReturnStep) -> bool:
    """False where the next step is more than the clinician allowed."""
    step = way_back.next_up(loads_of(now.ladder), now.step, on_pointe=is_on_pointe(student))
    allows = now.clearance.allows if now.clearance else ""
    return step is not None and way_back.is_within(
        now.ladder.steps[step]["loads"], allows, on_pointe=is_on_pointe(student)
    )


def heading(now: ReturnStep | None, ladder: ReturnLadder, *, is_pain: bool) -> str:
    """Over the steps: where the student stands; without a step and without pain that is full class."""
    if now:
        return _("Step %(number)s of %(last)s") % {"number": now.step, "last": ladder.last}
    return _("The steps") if is_pain else _("In full class")


def clearance_words(answer: PainAnswer) -> str:
    """ "Dr Vane, seen on 3 March: “two feet only”. At most: rises on two feet; no jumps. Until 3 April." """
    text = _("%(name)s, seen on %(day)s: “%(what)s”.") % {
        "name": answer.said_by, "day": write_day(answer.said_on), "what": answer.allowed}
    parts = [text]
    if answer.allows:
        parts.append(_("At most: %(what)s.") % {"what": answer.get_allows_display()})
    if answer.until_on:
        parts.append(_("Until %(day)s.") % {"day": write_day(answer.until_on)})
    if answer.see_again_on:
        parts.append(_("To be seen again on %(day)s.") % {"day": write_day(answer.see_again_on)})
    return " ".join(parts)
