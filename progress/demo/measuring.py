"""Fills the demo's two terms with barre checks whose truth the script tells; draws every wobble from one seed."""
import datetime as dt
import math
import uuid
from typing import Any

import numpy as np
from django.db import connection
from django.db.models import F

from progress.actions.measuring import close_screening
from progress.actions.standings import rebuild_standings, refresh_standings
from progress.demo import factories, story
from progress.demo.house import WEEK, House
from screening.models import Result, Screening
from studio.models import Term

# The old protocol of rises lasted until the third week of the running term.
OLD_PROTOCOL_WEEKS = 3
# Judged at the end of each of the last weeks, so that follow-ups open on the days they would have.
JUDGED_WEEKS = 6
# How much students of one class differ at the start, in each measure's own scale.
SPREADS = {"rises": 1.5, "passe-balance": 0.15, "landing-control": 0.1}
# Absences a student, a share of the classes.
OFTEN_AWAY, SELDOM_AWAY = 0.25, 0.06
# In how many attempts the fault that a student inclines to was written down.
HABITUAL_FAULTS = 0.15
# In the screening of today this many are measured already.
MEASURED_TODAY = 12

Truths = dict[tuple[str, str, str], np.ndarray]


def measure_terms(house: House) -> None:
    truths = _truths(house)
    rows: list[Result] = []
    for term_at, term in enumerate(house.terms):
        weeks = story.FIRST_TERM_WEEKS if term_at == 0 else story.TODAY_WEEK
        for week in range(1, weeks + 1):
            if week == story.HALF_TERM_WEEK:
                continue
            for class_row in house.script["classes"]:
                rows += _week(house, truths, term_at, term, week, class_row)
            if term_at == 1 and week > weeks - JUDGED_WEEKS:
                Result.objects.bulk_create(rows)
                rows = []
                _count_rows()
                refresh_standings(class_ids=[group.pk for group in house.groups.values()], today=house.today)
    rebuild_standings(today=house.today)
    _close_past(house)


def _count_rows() -> None:
    """Thousands of rows at once: until it has counted them, PostgreSQL looks for each student through all."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _close_past(house: House) -> None:
    past = Screening.objects.filter(held_on__lt=house.today)
    last = {screening.class_group_id: screening for screening in past.order_by("held_on")}
    past.exclude(pk__in=[s.pk for s in last.values()]).update(closed_by=F("opened_by"), closed_at=F("opened_at"))
    for screening in last.values():
        close_screening(screening=screening, closed_on=screening.held_on, by=screening.opened_by)


def _truths(house: House) -> Truths:
    """The true level of every line, by week of both terms."""
    weeks = [(term, week) for term in (0, 1) for week in range(story.FIRST_TERM_WEEKS)]
    truths = {}
    for row in house.script["classes"]:
        for name in row["students"]:
            talent = float(house.chance(name, "talent").normal(0, 1))
            for key, spread in SPREADS.items():
                base = house.script["levels"][key][row["stage"]]
                start = (math.log(base) if key == "passe-balance" else base) + talent * spread
                for side in "LR":
                    told = story.stories_of(house.script, name, row["name"], key, side)
                    truths[name, key, side] = story.true_levels(
                        start + (spread / 3 if side == "R" else 0), house.script["gains"][key], told, weeks=weeks
                    )
    return truths


def _week(house: House, truths: Truths, term_at: int, term: Term, week: int, row: dict[str, Any]) -> list[Result]:
    """A barre check on the weekday that is today, in every third week another one two days on."""
    first = term.starts_on + (week - 1) * WEEK + dt.timedelta(days=house.today.weekday())
    days = [min(first, house.today)]
    if week % 3 == 0 and first + dt.timedelta(days=2) < min(house.today, term.ends_on):
        days.append(first + dt.timedelta(days=2))
    made = []
    for day in days:
        made += _barre_check(house, truths, term_at, term, week, day, row)
    return made


def _barre_check(house, truths, term_at: int, term: Term, week: int, day: dt.date, row: dict[str, Any]) -> list[Result]:
    is_today = day == house.today
    if is_today and row is not house.script["classes"][0]:
        return []
    screening = factories.ScreeningFactory(
        class_group=house.groups[row["name"]], term=term, battery=house.battery, held_on=day,
        opened_by=house.assessor(row), name="End-of-term screening" if is_today else "",
    )
    made = []
    for at, name in enumerate(row["students"]):
        if (is_today and at >= MEASURED_TODAY) or _is_away(house, name, term_at, week, day):
            continue
        rests = house.rests(name, day)
        for key in story.SCALES:
            if rests and house.measures[key].loads_foot:
                continue
            for side in "LR":
                level = truths[name, key, side][term_at * story.FIRST_TERM_WEEKS + week - 1]
                chance = house.chance(name, key, side, term_at, week, (house.today - day).days % 7)
                made += _attempts(house, screening, name, key, side, term_at, week, level, chance)
    return made


def _is_away(house: House, name: str, term_at: int, week: int, day: dt.date) -> bool:
    late = house.joins_late().get(name)
    if late is not None and (term_at == 0 or week < late):
        return True
    gone = {row["student"]: row["week"] for row in house.script["not_measured_since"]}
    if term_at == 1 and week >= gone.get(name, story.FIRST_TERM_WEEKS + 1):
        return True
    if term_at == 1 and name in house.told and name not in house.script["away"]:
        return False
    chance = house.chance(name, "away", term_at, week, (house.today - day).days % 7)
    return chance.random() < (OFTEN_AWAY if name in house.script["away"] else SELDOM_AWAY)


def _fault(house: House, name: str, protocol, side: str, week: int, term_at: int) -> str:
    """What was seen to end the attempt: on some days a habit of hers; drawn apart, so that no result depends on it."""
    if not protocol.faults:
        return ""
    habit = protocol.faults[house.chance(name, protocol.measure.key, "habit").integers(len(protocol.faults))]
    return habit if house.chance(name, "fault", side, week, term_at).random() < HABITUAL_FAULTS else ""


def _attempts(house, screening, name, key, side, term_at: int, week: int, level: float, chance) -> list[Result]:
    told = story.stories_of(house.script, name, screening.class_group.name, key, side)
    values = story.one_result(level, key, told.get("wobble", house.script["wobble"][key]), chance)
    pen = house.script["slip_of_the_pen"]
    if term_at == 1 and (name, key, side, week) == (pen["student"], pen["measure"], pen["side"], pen["week"]):
        values = [float(pen["value"])]
    protocol = house.protocols[key]
    if key == "rises" and term_at == 1 and week > OLD_PROTOCOL_WEEKS:
        protocol = house.new_rises
    made = []
    for attempt, value in enumerate(values, start=1):
        capped = protocol.cap is not None and value >= protocol.cap
        made.append(Result(
            key=uuid.UUID(bytes=chance.bytes(16), version=4), screening=screening, student=house.students[name],
            measure=house.measures[key], protocol=protocol, side=side, attempt=attempt,
            value=protocol.cap if capped else round(value, 1), reached_cap=capped, taken_on=screening.held_on,
            by=screening.opened_by, fault=_fault(house, name, protocol, side, week, term_at),
        ))
        if capped:
            break
    return made
