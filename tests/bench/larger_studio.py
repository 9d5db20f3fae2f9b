"""Makes the demo studio larger: whole classes again, with their days, results, logs and lines, under other names."""

from __future__ import annotations

import copy
import uuid

# In this order a row's foreign keys are copied before it.
COPIED = (
    "studio.Student", "studio.ClassGroup", "studio.StageChange", "studio.Enrolment", "studio.Consent",
    "screening.Screening", "screening.Result", "progress.ClassLog", "progress.Attendance", "progress.LogEntry",
    "progress.PainReport", "progress.FollowUp", "progress.Height", "progress.ProgrammeEntry", "progress.Standing",
    "progress.ClassStanding",
)


def multiply(times: int) -> None:
    """`times` copies of every class beside the classes there are; what is the studio's own stays one."""
    from django.apps import apps

    there = {name: list(apps.get_model(name).objects.order_by("pk")) for name in COPIED}
    for number in range(1, times + 1):
        made: dict[tuple[str, int], int] = {}
        for name in COPIED:
            rows = [_again(row, number, made) for row in there[name]]
            if rows and hasattr(rows[0], "supersedes_id"):
                _create_in_generations(rows, there[name], made)
            else:
                type(rows[0]).objects.bulk_create(rows)
                made |= {(name, old.pk): new.pk for old, new in zip(there[name], rows, strict=True)}


def _again(row, number: int, made: dict[tuple[str, int], int]):
    new = copy.copy(row)
    new.pk, new._state = None, copy.copy(row._state)
    new._state.adding, new._state.fields_cache = True, {}
    for field in row._meta.concrete_fields:
        if field.is_relation and (kept := made.get((field.related_model._meta.label, getattr(row, field.attname)))):
            setattr(new, field.attname, kept)
        elif field.name == "uuid":
            new.key = uuid.uuid4()
        elif field.name == "name":
            new.name = f"{row.name} {number}"
    return new


def _create_in_generations(rows: list, old: list, made: dict[tuple[str, int], int]) -> None:
    """A correction after what it corrects."""
    name, waiting = type(rows[0])._meta.label, list(zip(old, rows, strict=True))
    while waiting:
        ready = [(before, row) for before, row in waiting
                 if before.supersedes_id is None or (name, before.supersedes_id) in made]
        for before, row in ready:
            row.supersedes_id = made.get((name, before.supersedes_id))
        type(rows[0]).objects.bulk_create([row for _before, row in ready], batch_size=2000)
        made |= {(name, before.pk): row.pk for before, row in ready}
        waiting = [pair for pair in waiting if (name, pair[0].pk) not in made]
