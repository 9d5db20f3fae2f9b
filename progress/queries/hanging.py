"""Reads every row that hangs on a student, by the tables' own keys, so that a new table is never forgotten."""
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.utils.text import capfirst

from studio.audit.models import AuditRow
from studio.audit.queries import rows_about
from studio.models import Guardian, Student

# Kept out of a copy: it opens nothing and says nothing, and nobody may try passwords against it.
KEYS = {"token_hash", "digest"}
Found = dict[type[models.Model], set[int]]


def hanging(seeds: Found) -> Found:
    """The seeds and whatever points at them, and at what points at them, as model and keys."""
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
    title: str
    rows: tuple[dict[str, Any], ...]


def everything_about(student: Student) -> list[Table]:
    """Every row there is about her, her guardians, and who saw her; of other children nothing."""
    found = hanging({Student: {student.pk}})
    found[Guardian] = set(student.guardians.values_list("pk", flat=True))
    tables = [
        _table(model, model._base_manager.filter(pk__in=keys).order_by("pk"), student)
        for model, keys in sorted(found.items(), key=lambda item: item[0]._meta.label) if not model._meta.auto_created
    ]
    return [*tables, _table(AuditRow, AuditRow.objects.filter(rows_about([student.pk])).order_by("pk"), student)]


def _table(model: type[models.Model], rows: Iterable[models.Model], student: Student) -> Table:
    fields = [field for field in model._meta.concrete_fields if field.name not in KEYS and not field.primary_key]
    named = [field.name for field in fields if field.is_relation]
    rows = rows.select_related(*named) if named else rows
    title = capfirst(str(model._meta.verbose_name_plural))
    return Table(model._meta.model_name, title, tuple(dict(_cells(row, fields, student)) for row in rows))


def _cells(row: models.Model, fields: list[models.Field], student: Student) -> Iterator[tuple[str, Any]]:
    yield "number", row.pk
    for field in fields:
        value = getattr(row, field.attname)
        if field.is_relation:
            if field.related_model is Student or value is None:
                continue
            # Rows of the same copy by their number, what else there is by its name.
            is_hers = any(inner.related_model is Student for inner in field.related_model._meta.concrete_fields)
            yield field.name, value if is_hers else str(getattr(row, field.name))
        elif value not in (None, "", []):
            yield field.name, value
