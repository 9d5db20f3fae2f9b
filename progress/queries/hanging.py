"""Reads every row that hangs on a student, by the tables' own keys, so that a new table is never forgotten."""
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.db.models import QuerySet

from studio.audit.models import AuditRow
from studio.audit.queries import rows_about
from studio.models import Guardian, Student

# Kept out of a copy: it opens nothing and says nothing, and nobody may try passwords against it.
KEYS = {"token_hash", "digest"}
Found = dict[type[models.Model], set[int]]


def hanging(seeds: Found) -> Found:
    """The seeds, the rows that point at them, and the rows that point at those, as model and keys."""
    found: Found = defaultdict(set)
    todo = list(seeds.items())
    while todo:
        model, keys = todo.pop()
        new = keys - found[model]
        found[model] |= new
        for relation in model._meta.get_fields(include_hidden=True) if new else ():
            if relation.auto_created and not relation.concrete and not relation.many_to_many:
                rows = relation.related_model._base_manager.filter(**{f"{relation.field.name}__in": new})
                todo.append((relation.related_model, set(rows.values_list("pk", flat=True))))
    return {model: keys for model, keys in found.items() if keys}


@dataclass(frozen=True)
class Table:
    """One kind of row about a student. `rows`: label to value, in the order of the columns."""

    key: str
    rows: tuple[dict[str, Any], ...]


def rows_about_her(student: Student) -> list[tuple[type[models.Model], QuerySet]]:
    """Every row about the student, the guardians, and who saw the student, by kind; of other children nothing."""
    found = hanging({Student: {student.pk}})
    found[Guardian] = set(student.guardians.values_list("pk", flat=True))
    kinds = [
        (model, model._base_manager.filter(pk__in=keys).order_by("pk"))
        for model, keys in sorted(found.items(), key=lambda item: item[0]._meta.label) if not model._meta.auto_created
    ]
    kinds.append((AuditRow, AuditRow.objects.filter(rows_about([student.pk])).order_by("pk")))
    named = [(model, rows, [field.name for field in _kept(model) if field.is_relation]) for model, rows in kinds]
    return [(model, rows.select_related(*names) if names else rows) for model, rows, names in named]


def everything_about(student: Student) -> list[Table]:
    """The same as tables, every value by the name of its column."""
    return [
        Table(model._meta.model_name, tuple(dict(cells(row, student)) for row in rows))
        for model, rows in rows_about_her(student)
    ]


def _kept(model: type[models.Model]) -> list[models.Field]:
    return [field for field in model._meta.concrete_fields if field.name not in KEYS and not field.primary_key]


def cells(row: models.Model, student: Student) -> Iterator[tuple[str, Any]]:
    """(column, value) of a row about the student; what is empty is not there."""
    yield "number", row.pk
    for field in _kept(type(row)):
        value = getattr(row, field.attname)
        if field.is_relation:
            if field.related_model is Student or value is None:
                continue
            # Rows of the same copy by their number, what else there is by its name.
            is_hers = any(inner.related_model is Student for inner in field.related_model._meta.concrete_fields)
            yield field.name, value if is_hers else str(getattr(row, field.name))
        elif value not in (None, "", []):
            yield field.name, value
