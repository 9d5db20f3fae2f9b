"""`python -m tests.demo_file`: writes the demo of this computer's studio back into fixtures/demo.json.xz.

To change its story: on a Monday, or with the clock put on one, `./risebook run` an empty studio with the demo, change
it in the program, then run this. The same after a migration that renames what the demo holds: start the demo before
it, migrate, run this.
"""
import json
import lzma
import os
import re
import sys
from decimal import Decimal
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
if __name__ == "__main__":
    django.setup()

from django.apps import apps  # noqa: E402  (settings first)
from django.db import models  # noqa: E402
from django.utils import timezone  # noqa: E402

from progress.actions.demo import DUE, FILE, NAMED_BY  # noqa: E402
from progress.actions.moving import moved_models  # noqa: E402
from progress.models import FollowUpNote  # noqa: E402
from screening.models import Screening  # noqa: E402
from studio.models import Studio, User  # noqa: E402
from studio.templatetags.wording import day as write_day  # noqa: E402

# Every studio has them, they are made anew, or they are about this computer.
NOT_TOLD = {
    "studio.studio", "studio.auditrow", "studio.deed", "studio.visit", "screening.batterymeasure", "screening.target",
    "progress.termstanding", "progress.termclassstanding", "progress.learnedvalue", *NAMED_BY,
}
# Keys of so many rows would be most of the file; the loader makes others.
MANY = 400
OF_THE_STUDIO = ("name", "first_aid_policy", "phone", "email")


def told() -> dict[str, Any]:
    owner = User.objects.filter(role=User.OWNER).order_by("pk").first()
    teacher = User.objects.exclude(pk=owner.pk).get()
    as_of = Screening.objects.latest("held_on").held_on
    assert as_of.weekday() == 0, f"{as_of} is no Monday"
    studio = Studio.current()
    names = {label: _names_of(label) for label in NAMED_BY}
    names["studio.user"] = {owner.pk: "owner", teacher.pk: teacher.username}
    tables = [*moved_models(), *(
        field.remote_field.through for model in moved_models() for field in model._meta.local_many_to_many
        if field.remote_field.through._meta.auto_created
    )]
    return {
        "about": "The demo studio. Everything in it is invented: the studio, the people, the numbers.",
        "as_of": str(as_of),
        "studio": {name: getattr(studio, name) for name in OF_THE_STUDIO},
        "owner": {"name": owner.name, "email": owner.email},
        "teacher": {"username": teacher.username, "name": teacher.name, "role": teacher.role},
        "tables": {
            label: table for model in tables if (label := model._meta.label_lower) not in NOT_TOLD
            and (table := _table(model, names))["rows"]
        },
    }


def _names_of(label: str) -> dict[int, Any]:
    rows = apps.get_model(label).objects.values_list("pk", *NAMED_BY[label])
    return {pk: name[0] if len(name) == 1 else name for pk, *name in rows}


def _table(model: type[models.Model], names: dict[str, dict]) -> dict[str, Any]:
    """Columns that say the default in every row are left out: the model knows it."""
    rows = list(model._base_manager.order_by("pk"))
    if model is FollowUpNote:
        for row in rows:
            row.text = row.text.replace(write_day(row.follow_up.due_on), DUE)
    fields = [
        field for field in model._meta.concrete_fields
        if field.primary_key or not (isinstance(field, models.UUIDField) and len(rows) > MANY)
        and (field.default is timezone.now or any(getattr(row, field.attname) != field.get_default() for row in rows))
    ]
    return {
        "columns": [field.name for field in fields],
        "rows": [[_told(field, getattr(row, field.attname), names) for field in fields] for row in rows],
    }


def _told(field: models.Field, value: Any, names: dict[str, dict]) -> Any:
    if value is None:
        return None
    if field.is_relation:
        return names.get(field.related_model._meta.label_lower, {}).get(value, value)
    if isinstance(field, models.JSONField):
        assert not re.search(r"\d{4}-\d\d-\d\d", json.dumps(value)), f"{field} holds a day that would not be moved"
        return value
    if isinstance(field, models.DateTimeField):
        return str(timezone.localtime(value).replace(tzinfo=None, microsecond=0))
    if isinstance(value, Decimal):
        return float(value) if value % 1 else int(value)
    return value if isinstance(value, bool | int | float | str) else str(value)


if __name__ == "__main__":
    text = json.dumps(told(), ensure_ascii=False, separators=(",", ":")).encode()
    packed = lzma.compress(text, preset=9 | lzma.PRESET_EXTREME)
    FILE.write_bytes(packed)
    sys.stdout.write(f"{len(text)} bytes of rows, {len(packed)} packed, in {FILE}\n")
