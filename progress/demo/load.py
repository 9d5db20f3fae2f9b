"""Builds the demo studio from its script, the same every time for the same day; only into an empty studio."""
import datetime as dt
import json
import uuid
from decimal import Decimal
from typing import Any

import factory.random
from django.conf import settings
from django.db import models, transaction
from django.utils import timezone

from progress.actions import answering, follow_ups, growth, pain, returning
from progress.actions.telling import tell_home
from progress.demo.classwork import work_in_class
from progress.demo.families import ask_families
from progress.demo.house import House, build_house
from progress.demo.measuring import measure_terms
from progress.models import FollowUp, HomeTold, PainReport
from progress.queries.way_back import classes_since
from screening.models import Result
from studio.actions import Refused
from studio.models import ClassGroup, Enrolment, Student, Term, User


@transaction.atomic
def load_demo(*, today: dt.date) -> dict[str, Any]:
    """Two terms of three classes up to today. Refused where the studio has anything of its own already."""
    if Student.objects.exists() or ClassGroup.objects.exists() or Term.objects.exists():
        raise Refused("The studio has students, classes or terms already; the demo goes only into an empty one.")
    if not User.objects.filter(role=User.OWNER).exists():
        raise Refused("The studio has no owner yet. Start with first_start, then load the demo.")
    script = json.loads((settings.BASE_DIR / "fixtures" / "demo.json").read_text(encoding="utf-8"))
    factory.random.reseed_random(script["seed"])
    house = build_house(script, today)
    ask_families(house)
    measure_terms(house)
    for row in script["heights"]:
        _measure_heights(house, row)
    for row in script["pain"]:
        _hurt(house, row)
    _take_notes(house)
    work_in_class(house)
    for row in script["pain"]:
        if "answer" in row:
            _step_up(house, house.students[row["student"]])
    return {"students": Student.objects.count(), "results": Result.objects.count(), "teacher": house.teacher}


def _measure_heights(house: House, row: dict[str, Any]) -> None:
    for days_ago, cm in row["cm"]:
        on = house.today - dt.timedelta(days=days_ago)
        height = growth.record_height(
            student=house.students[row["student"]], height_cm=Decimal(str(cm)), measured_on=on, by=house.owner
        )
        _backdate(height, "received_at", on)


def _hurt(house: House, row: dict[str, Any]) -> None:
    child = house.students[row["student"]]
    enrolment = Enrolment.objects.filter(student=child, term=house.terms[1]).first()
    report = pain.report_pain(
        key=_key(house, row), student=child, class_group=enrolment.class_group,
        screening=None, measure=house.measures["rises"] if "sharp" in row["feels"] else None, places=row["places"],
        feels=row["feels"], signs=row.get("signs", []), intensity=row["intensity"], stopped=row["stopped"],
        since=row.get("since", ""), note="",
        reported_on=house.today - dt.timedelta(days=row["days_ago"]), by=house.owner,
    )
    _answer(house, report, row)


def _key(house: House, row: dict[str, Any]) -> uuid.UUID:
    return uuid.UUID(bytes=house.chance("pain", row["student"], row["days_ago"]).bytes(16), version=4)


def _answer(house: House, report: PainReport, row: dict[str, Any]) -> None:
    follow_up = report.follow_ups.filter(closed_at__isnull=True).first()
    if follow_up is not None and row.get("note"):
        note = follow_ups.add_note(follow_up=follow_up, text=row["note"], by=follow_up.acts)
        _backdate(note, "at", report.reported_on)
    if follow_up is not None and "told" in row:
        tell_home(key=uuid.UUID(int=_key(house, row).int ^ 2), report=report, guardian=None, who=row["told"],
                  way=HomeTold.IN_PERSON, note="", by=follow_up.acts)
    if follow_up is not None and row.get("answer"):
        told = row["answer"]
        on = house.today - dt.timedelta(days=told["days_ago"])
        answer = answering.Answer(
            kind=told["kind"], note=told["note"], step=told["step"], said_by=told["said_by"], said_on=on,
            allowed=told["allowed"], allows=told["allows"],
        )
        answering.answer_pain(follow_up=follow_up, answer=answer, closed_on=on, by=house.owner)
        _backdate(report.answers.get(), "received_at", on)
        for step in report.student.return_steps.all():
            _backdate(step, "at", on)
        for closing in follow_up.notes.all():
            _backdate(closing, "at", on)


def _step_up(house: House, child: Student) -> None:
    """Up the steps, one after each class that was logged with her, until full class."""
    while now := returning.current_step(child):
        log = classes_since(child, now, house.today).order_by("held_on").first()
        if log is None:
            return
        step = returning.move_up(student=child, class_log=log, today=log.held_on, note="", by=house.owner)
        _backdate(step, "at", log.held_on)


def _backdate(row: models.Model, name: str, on: dt.date) -> None:
    """The demo's facts were written on the days they tell of, in the evening."""
    evening = timezone.make_aware(dt.datetime.combine(on, dt.time(18)))
    type(row).objects.filter(pk=row.pk).update(**{name: evening})


def _take_notes(house: House) -> None:
    """What was done so far, and by when: one is late, the others are still to come."""
    told = {row["student"]: row for row in house.script["notes"]}
    for at, follow_up in enumerate(FollowUp.objects.filter(closed_at__isnull=True).order_by("kind", "pk")):
        row = told.pop(follow_up.student.name, {}) if follow_up.kind == FollowUp.NO_GAIN else {}
        if "note" in row:
            follow_ups.add_note(follow_up=follow_up, text=row["note"], by=follow_up.acts)
        due_on = house.today + dt.timedelta(days=-row["late"] if "late" in row else 2 + at % 3)
        if follow_up.is_about_pain:
            due_on = max(follow_up.due_on, house.today)
        follow_ups.hand_over(follow_up=follow_up, acts=follow_up.acts, due_on=due_on, by=house.owner,
                             why=house.script["put_off"] if follow_up.is_about_pain else "")
