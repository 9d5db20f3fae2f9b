"""Builds the demo studio from its script, the same every time for the same day; only into an empty studio."""
import datetime as dt
import json
import math
import uuid
from typing import Any

import factory.random
import numpy as np
from django.conf import settings
from django.db import transaction
from django.db.models import F

from progress.actions import follow_ups, pain
from progress.actions.measuring import close_screening
from progress.actions.standings import rebuild_standings, refresh_standings
from progress.demo import factories, story
from progress.models import FollowUp, PainReport
from screening.models import Battery, Measure, Protocol, Result, Screening
from studio.actions import Refused
from studio.models import ClassGroup, ClassMeeting, Enrolment, Holiday, Student, Studio, Term, User

WEEK = dt.timedelta(days=7)
# The old way of counting ended here, in the third week of the running term; a new protocol starts a new line.
OLD_PROTOCOL_WEEKS = 3
OLD_CAP = 16


def read_script() -> dict[str, Any]:
    return json.loads((settings.BASE_DIR / "fixtures" / "demo.json").read_text(encoding="utf-8"))


@transaction.atomic
def load_demo(*, today: dt.date) -> dict[str, Any]:
    """Two terms of three classes up to today. Refused where the studio has students already."""
    if Student.objects.exists():
        raise Refused("The studio has students already; the demo goes only into an empty one.")
    script = read_script()
    factory.random.reseed_random(script["seed"])
    house = _House(script, today)
    house.make_people()
    house.make_terms()
    house.make_classes()
    house.make_protocols()
    house.measure()
    house.hurt()
    house.take_notes()
    return {"students": Student.objects.count(), "results": Result.objects.count(), "teacher": house.teacher}


class _House:
    """The studio while it is being built."""

    def __init__(self, script: dict[str, Any], today: dt.date):
        self.script, self.today = script, today
        self.monday = today - dt.timedelta(days=today.weekday())
        self.rng = np.random.default_rng(script["seed"])

    def make_people(self) -> None:
        Studio.objects.update_or_create(pk=1, defaults={
            "name": self.script["studio"], "is_demo": True,
            "first_aid_policy": "Stop, sit, protect the foot. The first-aid box hangs by the door. Ring home before class ends.",
        })
        self.owner = User.objects.filter(role=User.OWNER).order_by("pk").first()
        if self.owner.name == "Owner":
            self.owner.name = self.script["owner"]
            self.owner.save(update_fields=["name"])
        self.teacher = factories.UserFactory(**self.script["teacher"])

    def make_terms(self) -> None:
        start = self.monday - (story.TODAY_WEEK - 1) * WEEK
        before = start - (story.FIRST_TERM_WEEKS + story.HOLIDAY_WEEKS) * WEEK
        self.terms = []
        for first, names in ((before, ("Term before", "half-term")), (start, ("This term", "half-term"))):
            term = factories.TermFactory(name=_term_name(first), starts_on=first, ends_on=first + 13 * WEEK - dt.timedelta(days=2))
            Holiday.objects.create(
                term=term, name=names[1], starts_on=first + 6 * WEEK, ends_on=first + 6 * WEEK + dt.timedelta(days=6)
            )
            self.terms.append(term)

    def make_classes(self) -> None:
        late = {row["student"]: row["week"] for row in self.script["joins_late"]}
        self.students: dict[str, Student] = {}
        self.groups: dict[str, ClassGroup] = {}
        shift = self.today.weekday()
        for row in self.script["classes"]:
            group = factories.ClassGroupFactory(name=row["name"])
            group.teachers.add(self.owner if row["teacher"] == "owner" else self.teacher)
            for day, clock in row["meetings"]:
                ClassMeeting.objects.create(class_group=group, weekday=(day + shift) % 7, starts_at=dt.time.fromisoformat(clock))
            self.groups[row["name"]] = group
            stage = factories.StageFactory(key=row["stage"])
            for name in row["students"]:
                child = factories.StudentFactory(name=name, stage=stage, added_by=self.owner, birth_on=self._birthday())
                self.students[name] = child
                guardian = factories.GuardianFactory(name=f"Family {name.split(' ', 1)[1]}")
                guardian.students.add(child)
                for term in self.terms:
                    joined = term.starts_on + (late[name] - 1) * WEEK if name in late else term.starts_on
                    if name not in late or term is self.terms[1]:
                        factories.EnrolmentFactory(
                            student=child, class_group=group, term=term, joined_on=joined, enrolled_by=self.owner
                        )

    def _birthday(self) -> dt.date:
        return self.today - dt.timedelta(days=int(self.rng.integers(int(10.5 * 365), 14 * 365)))

    def make_protocols(self) -> None:
        """Rises were first counted in a class run that stopped at sixteen; then heel to the string, as the catalogue says."""
        self.measures = {m.key: m for m in Measure.objects.filter(key__in=story.SCALES)}
        first = Protocol.objects.get(measure=self.measures["rises"], version=1)
        self.protocols = {m.key: Protocol.objects.get(measure=m, version=1) for m in self.measures.values()}
        values = {
            name: getattr(first, name)
            for name in ("short_name", "instruction", "stop_rule", "cap", "beats_per_minute", "grades", "faults")
        }
        self.new_rises = Protocol.objects.create(measure=self.measures["rises"], version=2, made_by=self.owner, **values)
        first.short_name, first.cap = "class run, stopped at 16", OLD_CAP
        first.instruction = "Two fingers on the barre. Rise with the class, straight knee."
        first.save()

    def measure(self) -> None:
        """Week by week: a barre check a class, judged at the end of each of the last six weeks."""
        self.battery = Battery.objects.get(key="barre-check")
        self.truths = self._truths()
        rows: list[Result] = []
        for term_at, term in enumerate(self.terms):
            weeks = story.FIRST_TERM_WEEKS if term_at == 0 else story.TODAY_WEEK
            for week in range(1, weeks + 1):
                if week == 7:
                    continue
                for class_row in self.script["classes"]:
                    rows += self._barre_checks(term_at, term, week, class_row)
                if term_at == 1 and week >= weeks - 5:
                    Result.objects.bulk_create(rows)
                    rows = []
                    refresh_standings(class_ids=[group.pk for group in self.groups.values()])
        rebuild_standings()
        past = Screening.objects.filter(held_on__lt=self.today)
        past.update(closed_by=F("opened_by"), closed_at=F("opened_at"))
        for group in self.groups.values():
            last = past.filter(class_group=group).order_by("-held_on").first()
            close_screening(screening=last, closed_on=last.held_on, by=last.opened_by)

    def _truths(self) -> dict[tuple, np.ndarray]:
        weeks = [(0, w) for w in range(13)] + [(1, w) for w in range(13)]
        truths = {}
        for class_row in self.script["classes"]:
            for name in class_row["students"]:
                talent = float(self.rng.normal(0, 1))
                for key in story.SCALES:
                    base, spread = self.script["levels"][key][class_row["stage"]], {"rises": 1.5, "passe-balance": 0.15, "landing-control": 0.1}[key]
                    start = (math.log(base) if key == "passe-balance" else base) + talent * spread
                    for side in "LR":
                        told = story.stories_of(self.script, name, class_row["name"], key, side)
                        truths[name, key, side] = story.true_levels(
                            start + (spread / 3 if side == "R" else 0), self.script["gains"][key], told, weeks=weeks
                        )
        return truths

    def _barre_checks(self, term_at: int, term: Term, week: int, class_row: dict[str, Any]) -> list[Result]:
        monday = term.starts_on + (week - 1) * WEEK
        first_day = monday + dt.timedelta(days=self.today.weekday())
        days = [min(first_day, self.today)]
        if week % 3 == 0 and first_day + dt.timedelta(days=2) < min(self.today, term.ends_on):
            days.append(first_day + dt.timedelta(days=2))
        made = []
        for day in days:
            made += self._barre_check(term_at, term, week, day, class_row)
        return made

    def _barre_check(self, term_at: int, term: Term, week: int, day: dt.date, class_row: dict[str, Any]) -> list[Result]:
        is_today = day == self.today
        if is_today and class_row["name"] != "Pre-pointe A":
            return []
        by = self.owner if class_row["teacher"] == "owner" else self.teacher
        screening = factories.ScreeningFactory(
            class_group=self.groups[class_row["name"]], term=term, battery=self.battery, held_on=day, opened_by=by,
            name="End-of-term screening" if is_today else "",
        )
        made = []
        for at, name in enumerate(class_row["students"]):
            if is_today and at >= 9 or self._is_away(name, term_at, week):
                continue
            for key in story.SCALES:
                for side in "LR":
                    made += self._attempts(screening, name, key, side, term_at, week, by)
        return made

    def _is_away(self, name: str, term_at: int, week: int) -> bool:
        late = {row["student"]: row["week"] for row in self.script["joins_late"]}
        gone = {row["student"]: row["week"] for row in self.script["not_measured_since"]}
        if name in late and (term_at == 0 or week < late[name]):
            return True
        if term_at == 1 and week >= gone.get(name, 99):
            return True
        return self.rng.random() < (0.25 if name in self.script["away"] else 0.06)

    def _attempts(self, screening, name: str, key: str, side: str, term_at: int, week: int, by: User) -> list[Result]:
        level = self.truths[name, key, side][term_at * 13 + week - 1]
        values = story.one_result(level, key, self.script["wobble"][key], self.rng)
        pen = self.script["slip_of_the_pen"]
        if term_at == 1 and (name, key, side, week) == (pen["student"], pen["measure"], pen["side"], pen["week"]):
            values = [float(pen["value"])]
        protocol = self.protocols[key]
        if key == "rises" and term_at == 1 and week > OLD_PROTOCOL_WEEKS:
            protocol = self.new_rises
        made = []
        for attempt, value in enumerate(values, start=1):
            capped = protocol.cap is not None and value >= protocol.cap
            made.append(Result(
                uuid=uuid.UUID(bytes=self.rng.bytes(16), version=4), screening=screening, student=self.students[name],
                measure=self.measures[key], protocol=protocol, side=side, attempt=attempt,
                value=protocol.cap if capped else round(value, 1), reached_cap=capped, taken_on=screening.held_on,
                recorded_by=by,
            ))
            if capped:
                break
        return made

    def hurt(self) -> None:
        for row in self.script["pain"]:
            child = self.students[row["student"]]
            enrolment = Enrolment.objects.filter(student=child, term=self.terms[1]).first()
            on = self.today - dt.timedelta(days=row["days_ago"])
            report = pain.report_pain(
                key=uuid.UUID(bytes=self.rng.bytes(16), version=4), student=child, class_group=enrolment.class_group,
                screening=None, measure=self.measures["rises"] if row["feels"] == "sharp" else None,
                places=row["places"], feels=row["feels"], intensity=row["intensity"], stopped=row["stopped"], note="",
                reported_on=on, by=self.owner,
            )
            self._answer(report, row)

    def _answer(self, report: PainReport, row: dict[str, Any]) -> None:
        follow_up = report.follow_ups.filter(closed_at__isnull=True).first()
        if follow_up is not None and row.get("note"):
            follow_ups.add_note(follow_up=follow_up, text=row["note"], by=follow_up.acts)
        if follow_up is not None and row.get("answer"):
            kind, note, days_ago = row["answer"]
            follow_ups.close_follow_up(
                follow_up=follow_up, note=note, answer=kind, closed_on=self.today - dt.timedelta(days=days_ago),
                by=self.owner,
            )

    def take_notes(self) -> None:
        """What was done so far, and by when: one is late, the others are still to come."""
        told = {row["student"]: row for row in self.script["notes"]}
        for at, follow_up in enumerate(FollowUp.objects.filter(closed_at__isnull=True).order_by("kind", "pk")):
            row = told.pop(follow_up.student.name, {}) if follow_up.kind == FollowUp.NO_GAIN else {}
            if "note" in row:
                follow_ups.add_note(follow_up=follow_up, text=row["note"], by=follow_up.acts)
            if follow_up.is_about_pain:
                continue
            due_on = self.today + dt.timedelta(days=-row["late"] if "late" in row else 2 + at % 3)
            follow_ups.hand_over(follow_up=follow_up, acts=follow_up.acts, due_on=due_on, by=self.owner)


def _term_name(first: dt.date) -> str:
    season = {12: "Spring", 1: "Spring", 2: "Spring", 3: "Summer", 4: "Summer", 5: "Summer", 6: "Summer"}.get(first.month, "Autumn")
    return f"{season} term {(first + 4 * WEEK).year}"
