"""The whole studio as one JSON file, and such a file into an empty studio; no key to any door is in it."""
import json
from collections.abc import Iterator
from typing import Any, TextIO

from django.apps import apps
from django.contrib.auth.hashers import UNUSABLE_PASSWORD_PREFIX
from django.core import serializers
from django.core.exceptions import FieldDoesNotExist
from django.core.management.color import no_style
from django.core.serializers.base import DeserializationError
from django.db import IntegrityError, connection, models, transaction
from django.db.migrations.loader import MigrationLoader

from progress.actions.standings import rebuild_standings
from studio.actions import Refused
from studio.audit.actions import append
from studio.audit.models import AuditRow
from studio.models import Student, User

LAYOUT = "risebook-studio-1"
APPS = ("studio", "screening", "progress")
# What does not go along, and why.
LEFT_OUT = {
    "studio.importdraft": "thrown away after a day",
    "studio.tablet": "a key of this computer's tablets",
    "studio.pin": "a key",
    "studio.visit": "a key: whoever has its number is in",
    "studio.pintries": "belongs to keys",
    "studio.guardiankey": "a key of a family",
    "studio.keytry": "belongs to keys",
    "progress.standing": "judged anew",
    "progress.classstanding": "judged anew",
    "progress.carriedover": "judged anew",
    "progress.reportrun": "files of this computer",
    "progress.runsheet": "files of this computer",
}
# Keys inside rows that do go along: where they come in a new one is made.
KEYS = {"studio.user": {
    "password": UNUSABLE_PASSWORD_PREFIX, "last_login": None, "is_superuser": False, "is_staff": False,
    "groups": [], "user_permissions": [],
}}


def moved_models() -> list[type[models.Model]]:
    """Every table that goes along."""
    ours = (model for app in APPS for model in apps.get_app_config(app).get_models())
    return [model for model in ours if model._meta.label_lower not in LEFT_OUT]


def throw_rows_away() -> None:
    """Empties our tables within a transaction, in any order: the database asks for its keys at the end only."""
    for app in APPS:
        for model in apps.get_app_config(app).get_models(include_auto_created=True):
            rows = model._base_manager.all()
            rows._raw_delete(rows.db)


def export_studio(file: TextIO) -> int:
    """Writes every row as one JSON object; the same studio gives the same text. Says how many rows."""
    written = 0
    with transaction.atomic():
        file.write(json.dumps({"layout": LAYOUT, "tables_as_of": _tables_as_of()})[:-1] + ', "rows": [')
        for row in _rows():
            file.write((",\n" if written else "\n") + json.dumps(row, ensure_ascii=False, sort_keys=True))
            written += 1
        file.write("\n]}\n")
        append(outcome=AuditRow.EXPORTED, page="export_studio", role=AuditRow.STUDIO)
    return written


def _rows() -> Iterator[dict[str, Any]]:
    for model in moved_models():
        for instance in model._base_manager.order_by("pk").iterator(chunk_size=500):
            [row] = serializers.serialize("python", [instance])
            row["fields"] |= KEYS.get(row["model"], {})
            for name, value in row["fields"].items():
                # A set of keys has no order of its own.
                if isinstance(model._meta.get_field(name), models.ManyToManyField):
                    row["fields"][name] = sorted(value)
            yield json.loads(json.dumps(row, cls=serializers.json.DjangoJSONEncoder))


def _tables_as_of() -> dict[str, str]:
    """The last migration of each app: a file fits only the tables it was written from."""
    graph = MigrationLoader(connection).graph
    return {app: graph.leaf_nodes(app)[0][1] for app in APPS}


@transaction.atomic
def import_studio(content: dict[str, Any]) -> int:
    """Fills an empty studio from an exported file and judges every class anew; all or nothing.

    Raises Refused with a sentence where the studio is not empty, or the file is none of ours or of another version.
    """
    if not isinstance(content, dict) or content.get("layout") != LAYOUT or not isinstance(content.get("rows"), list):
        raise Refused("This is not a file that export_studio wrote.")
    if User.objects.exists() or Student.objects.exists():
        raise Refused("This studio is not empty. Start with an empty database.")
    if content.get("tables_as_of") != _tables_as_of():
        raise Refused("The file comes from another version of Risebook. Bring both to the same version, then export.")
    rows = [_without_keys(row) for row in content["rows"]]
    throw_rows_away()
    try:
        for row in serializers.deserialize("python", rows):
            row.save()
        connection.check_constraints()
    except (DeserializationError, FieldDoesNotExist, IntegrityError, ValueError, TypeError, KeyError) as problem:
        raise Refused(f"The file is damaged: {problem}") from problem
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), moved_models()):
            cursor.execute(statement)
    rebuild_standings()
    return len(rows)


def _without_keys(row: Any) -> dict[str, Any]:
    """The row as export_studio would have written it, whoever wrote the file; Refused where it wrote no such row."""
    tables = {model._meta.label_lower for model in moved_models()}
    if not isinstance(row, dict) or row.get("model") not in tables or not isinstance(row.get("fields"), dict):
        named = row.get("model") if isinstance(row, dict) else row
        raise Refused(f"The file is damaged: {named} is no table that export_studio writes.")
    return row | {"fields": row["fields"] | KEYS.get(row["model"], {})}
