"""Reads what a studio still lacks before its first family page, as steps one after the other; changes nothing."""
import datetime as dt
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from screening.models import Result, Screening
from studio.models import ClassGroup, Consent, Enrolment, GuardianKey, Student, Studio, Term
from studio.queries import has_students, term_on

# Who has measured on so many days knows the way, with or without cards (our choice).
LED_FOR_DAYS = 3


@dataclass(frozen=True)
class Step:
    """One thing to do. `why`: what it needs and what it is for; `is_next`: the first that is not done."""

    name: str
    why: str
    link: str
    is_done: bool
    is_next: bool = False


def first_steps(studio: Studio, *, today: dt.date) -> list[Step]:
    """The three first steps while one of them is open, then the one that comes next, alone; [] once all is there."""
    measured = Screening.objects.filter(is_imported=False).values("held_on").distinct()
    if measured[:LED_FOR_DAYS].count() >= LED_FOR_DAYS:
        return []
    term, group = term_on(today), ClassGroup.objects.order_by("pk").first()
    begin = [
        Step(_("The term"), _("From when to when: everything is counted in its weeks. Holidays can be added later."),
             reverse("studio:add-term"), term is not None),
        Step(_("A class"), _("Its name and who teaches it. Days and times can be added later."),
             reverse("studio:add-class"), group is not None),
        Step(_("The students"), _("The list you keep, as a file. You see every row before it is written."),
             reverse("studio:bring-roster"), has_students(term)),
    ]
    if not all(step.is_done for step in begin):
        return _marked(begin)
    return [step for step in _marked(_afterwards(studio, _a_class_of(term))) if step.is_next]


def _a_class_of(term: Term) -> ClassGroup:
    enrolment = Enrolment.objects.filter(term=term, left_on__isnull=True).order_by("class_group", "pk").first()
    return enrolment.class_group


def _afterwards(studio: Studio, group: ClassGroup) -> list[Step]:
    """What follows: the forms, the first results, the cards; a studio that never asks for consent needs no form."""
    asks = studio.consent_asked_from is not None
    agreed = not asks or Consent.objects.exists() or not Student.objects.filter(is_nameless=False).exists()
    return [
        Step(_("The forms"), _("Print them, and record those that came back. Till then nobody is asked to measure."),
             reverse("studio:families", args=[group.pk]), agreed),
        Step(_("The first results"), _("Open a screening at the barre, or bring in last year’s results as a file."),
             reverse("progress:open-screening", args=[group.pk]), Result.objects.exists()),
        Step(_("The cards"), _("A family comes to its page by a private link. It is asked where the links lead."),
             reverse("studio:all-cards"), GuardianKey.objects.exists()),
    ]


def _marked(steps: list[Step]) -> list[Step]:
    first = next((step for step in steps if not step.is_done), None)
    return [Step(s.name, s.why, s.link, s.is_done, s is first) for s in steps]
