"""Builds the demo's people, terms, classes and protocols; knows no result."""
import datetime as dt
import zlib
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from progress.demo import factories, story
from screening.models import Battery, Measure, Protocol
from studio.actions import note_stage
from studio.models import ClassGroup, ClassMeeting, Holiday, Student, Studio, Term, User

WEEK = dt.timedelta(days=7)
# Rises were first counted in a class run that stopped here; then heel to the string, as the catalogue says.
OLD_CAP = 16
SEASONS = ("Spring", "Summer", "Autumn")
FIRST_AID = "Stop, sit, protect the foot. The first-aid box hangs by the door. Ring home before class ends."


@dataclass
class House:
    """The studio while it is being built: the script, today, and the rows made so far, by name."""

    script: dict[str, Any]
    today: dt.date
    owner: User | None = None
    teacher: User | None = None
    terms: list[Term] = field(default_factory=list)
    groups: dict[str, ClassGroup] = field(default_factory=dict)
    students: dict[str, Student] = field(default_factory=dict)
    measures: dict[str, Measure] = field(default_factory=dict)
    protocols: dict[str, Protocol] = field(default_factory=dict)
    new_rises: Protocol | None = None
    battery: Battery | None = None

    def chance(self, *words: object) -> np.random.Generator:
        """A generator of its own for what the words name, so that no draw depends on another one or on the day."""
        return np.random.default_rng([self.script["seed"], zlib.crc32("|".join(map(str, words)).encode())])

    def assessor(self, class_row: dict[str, Any]) -> User:
        return self.owner if class_row["teacher"] == "owner" else self.teacher

    @property
    def told(self) -> set[str]:
        """Students of whom the script tells something; they are there to be measured."""
        return {row["student"] for row in self.script["stories"]} | {self.script["slip_of_the_pen"]["student"]}

    def joins_late(self) -> dict[str, int]:
        return {row["student"]: row["week"] for row in self.script["joins_late"]}

    def rests(self, name: str, on: dt.date) -> bool:
        """True from the day after a stop sign until she is back in class; till then, nothing that loads the foot."""
        for report in self.script["pain"]:
            began = self.today - dt.timedelta(days=report["days_ago"])
            answer = report.get("answer")
            # After the answer she came back in steps.
            ended = self.today - dt.timedelta(days=answer["in_full_class"] if answer else 0)
            if report["student"] == name and "sharp" in report["feels"] and began < on <= ended:
                return True
        return False


def build_house(script: dict[str, Any], today: dt.date) -> House:
    house = House(script, today)
    _make_people(house)
    _make_terms(house)
    for row in script["classes"]:
        _make_class(house, row)
    _make_protocols(house)
    return house


def _make_people(house: House) -> None:
    # The number is one of those kept free for stories (Ofcom, numbers for use in TV and radio drama; from memory).
    Studio.objects.update_or_create(
        pk=1, defaults={
            "name": house.script["studio"], "is_demo": True, "first_aid_policy": FIRST_AID, "phone": "01632 960117",
            "email": house.script["families"]["owner_writes_from"],
        }
    )
    house.owner = User.objects.filter(role=User.OWNER).order_by("pk").first()
    if house.owner.name == "Owner":
        house.owner.name, house.owner.email = house.script["owner"], house.script["families"]["owner_writes_from"]
        house.owner.save(update_fields=["name", "email"])
    house.teacher = factories.UserFactory(**house.script["teacher"])


def _make_terms(house: House) -> None:
    monday = house.today - dt.timedelta(days=house.today.weekday())
    start = monday - (story.TODAY_WEEK - 1) * WEEK
    before = start - (story.FIRST_TERM_WEEKS + story.HOLIDAY_WEEKS) * WEEK
    for name, first in zip(term_names(start), (before, start), strict=True):
        term = factories.TermFactory(
            name=name, starts_on=first, ends_on=first + 13 * WEEK - dt.timedelta(days=2)
        )
        half = first + (story.HALF_TERM_WEEK - 1) * WEEK
        Holiday.objects.create(term=term, name="half-term", starts_on=half, ends_on=half + dt.timedelta(days=6))
        house.terms.append(term)


def term_names(first: dt.date) -> tuple[str, str]:
    """The names of the finished term and of the running one, which begins on `first`: a year has three.

    >>> term_names(dt.date(2026, 10, 19)), term_names(dt.date(2026, 12, 28))
    (('Summer term 2026', 'Autumn term 2026'), ('Autumn term 2026', 'Spring term 2027'))
    """
    at = {12: 0, 1: 0, 2: 0, 3: 1, 4: 1, 5: 1, 6: 1}.get(first.month, 2)
    year = (first + 4 * WEEK).year
    return f"{SEASONS[at - 1]} term {year - (at == 0)}", f"{SEASONS[at]} term {year}"


def _make_class(house: House, row: dict[str, Any]) -> None:
    group = factories.ClassGroupFactory(name=row["name"])
    group.teachers.add(house.assessor(row))
    house.groups[row["name"]] = group
    # The script's weekdays count from today, so that the first page always has its three classes.
    for days_on, clock in row["meetings"]:
        weekday = (days_on + house.today.weekday()) % 7
        ClassMeeting.objects.create(class_group=group, weekday=weekday, starts_at=dt.time.fromisoformat(clock))
    stage = factories.StageFactory(key=row["stage"])
    for name in row["students"]:
        age_days = house.chance(name, "age").integers(int(10.5 * 365), 14 * 365)
        birth_on = house.today - dt.timedelta(days=int(age_days))
        child = factories.StudentFactory(name=name, stage=stage, added_by=house.owner, birth_on=birth_on)
        factories.GuardianFactory(name=f"Family {name.split(' ', 1)[1]}").students.add(child)
        house.students[name] = child
        note_stage(student=child, on=house.terms[0].starts_on, by=house.owner)
        _enrol(house, child, group)


def _enrol(house: House, child: Student, group: ClassGroup) -> None:
    late = house.joins_late().get(child.name)
    for term in house.terms if late is None else house.terms[1:]:
        joined_on = term.starts_on + (late - 1) * WEEK if late else term.starts_on
        factories.EnrolmentFactory(
            student=child, class_group=group, term=term, joined_on=joined_on, enrolled_by=house.owner
        )


def _make_protocols(house: House) -> None:
    house.measures = {measure.key: measure for measure in Measure.objects.filter(key__in=story.SCALES)}
    house.protocols = {
        key: Protocol.objects.get(measure=measure, version=1) for key, measure in house.measures.items()
    }
    house.battery = Battery.objects.get(key="barre-check")
    old = house.protocols["rises"]
    same = ("short_name", "instruction", "stop_rule", "cap", "beats_per_minute", "grades", "faults")
    house.new_rises = Protocol.objects.create(
        measure=old.measure, version=2, made_by=house.owner, **{name: getattr(old, name) for name in same}
    )
    old.short_name, old.cap = f"class run, stopped at {OLD_CAP}", OLD_CAP
    old.instruction = "Two fingers on the barre. Rise with the class, straight knee."
    old.save()
