"""Makes ten years of the demo studio: twenty-eight terms before its two, and everybody who ever came."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

TERMS_A_YEAR, TERMS_BEFORE = 3, 28
WEEKS_OF_TERM, WEEKS_FROM_TERM_TO_TERM = 12, 17
# Whoever comes stays so long; places fall free one after the other.
TERMS_STAYED = 10
SEED = 20310106


def make_ten_years() -> None:
    """Into the demo studio; every place of a class had somebody else before, who stayed ten terms."""
    from progress.actions.finished_terms import keep_every_finished_term
    from progress.actions.standings import rebuild_standings
    from screening.models import Result
    from studio.models import ClassGroup, Term

    chance = np.random.default_rng(SEED)
    terms = _terms()
    first = Term.objects.order_by("starts_on")[len(terms)]
    rows: list[Result] = []
    for group in ClassGroup.objects.order_by("pk"):
        places = [each.student for each in group.enrolments.filter(term=first).select_related("student")]
        came = [1 + (7 * place) % TERMS_STAYED for place in range(len(places))]
        levels: dict[int, np.ndarray] = {}
        for back, term in zip(range(len(terms), 0, -1), terms, strict=True):
            here = [_holder(places, came, place, back) for place in range(len(places))]
            _enrol(here, group, term)
            rows += _results_of(chance, group, term, here, levels)
    Result.objects.bulk_create(rows, batch_size=2000)
    _count_rows()
    rebuild_standings()
    keep_every_finished_term(today=first.starts_on + dt.timedelta(days=3650))


def _count_rows() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _terms() -> list:
    from studio.models import Term

    start = Term.objects.earliest("starts_on").starts_on
    made = []
    for back in range(TERMS_BEFORE, 0, -1):
        starts_on = start - dt.timedelta(weeks=WEEKS_FROM_TERM_TO_TERM * back)
        made.append(Term(
            name=f"Term {TERMS_BEFORE - back + 1}", starts_on=starts_on,
            ends_on=starts_on + dt.timedelta(weeks=WEEKS_OF_TERM + 1, days=-2),
        ))
    return Term.objects.bulk_create(made)


def _holder(places: list, came: list[int], place: int, back: int):
    """Who had this place so many terms before the demo: its child of now, or one of those before; made when new."""
    from studio.models import Student

    before = math.ceil((back - came[place]) / TERMS_STAYED) if back > came[place] else 0
    if not before:
        return places[place]
    now = places[place]
    return Student.objects.get_or_create(
        name=f"{now.name} before {before}", defaults={
            "stage": now.stage, "birth_on": now.birth_on - dt.timedelta(weeks=17 * TERMS_STAYED * before)}
    )[0]


def _enrol(here: list, group, term) -> None:
    from studio.models import Enrolment

    Enrolment.objects.bulk_create(
        Enrolment(student=child, class_group=group, term=term, joined_on=term.starts_on) for child in here
    )


def _results_of(chance, group, term, here: list, levels: dict[int, np.ndarray]) -> list:
    """A check a week of the three measures of the demo, both feet; one in ten is away."""
    from screening.models import Battery, Measure, Protocol, Screening

    battery = Battery.objects.get(key="barre-check")
    measures = list(Measure.objects.filter(key__in=("rises", "passe-balance", "landing-control")).order_by("pk"))
    protocols = {each.measure_id: each for each in Protocol.objects.filter(version=1)}
    teacher = group.teachers.first()
    checks = Screening.objects.bulk_create(
        Screening(
            class_group=group, term=term, battery=battery, held_on=term.starts_on + dt.timedelta(weeks=week, days=1),
            opened_by=teacher, closed_by=teacher, closed_at=dt.datetime.now(dt.UTC),
        )
        for week in range(WEEKS_OF_TERM)
    )
    rows = []
    for check in checks:
        for child in here:
            # Counts, ln seconds, grades: where a child begins, and what a week brings.
            level = levels.setdefault(child.pk, np.array([8.0, 1.6, 0.6]) + chance.normal(0, [2.0, 0.2, 0.1]))
            level += chance.normal([0.08, 0.008, 0.01], [0.05, 0.005, 0.005])
            if chance.random() < 0.1:
                continue
            for measure in measures:
                for side in "LR":
                    rows.append(_result(chance, check, child, measure, protocols[measure.pk], side, level, teacher))
    return rows


def _result(chance, check, child, measure, protocol, side: str, level: np.ndarray, teacher):
    from screening.models import Measure, Result

    if measure.kind == Measure.COUNT:
        value = max(0, round(level[0] + chance.normal(0, 2.4)))
    elif measure.kind == Measure.SECONDS:
        value = round(math.exp(level[1] + chance.normal(0, 0.32)), 1)
    else:
        value = int(np.clip(round(level[2] + chance.normal(0, 0.5)), 0, 2))
    capped = measure.kind != Measure.GRADE and protocol.cap is not None and value >= protocol.cap
    return Result(
        screening=check, student=child, measure=measure, protocol=protocol, side=side,
        value=protocol.cap if capped else value, reached_cap=capped, taken_on=check.held_on, by=teacher,
    )
