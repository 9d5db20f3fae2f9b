"""Results are rows of the ledger of taps: whose words a row carries is written down once, and no more guessed."""
import uuid
from collections import defaultdict

import django.utils.timezone
from django.db import migrations, models
from django.db.models import F


def carry_over(apps, schema_editor):
    """A row that says again what an earlier one of its place said stood for it until now, and carries its origin; of a
    reason that one tap gave for several feet or measures, every row was given a key made from the tap's."""
    results = apps.get_model("screening", "Result").objects
    results.update(origin=F("key"), tapped_at=F("received_at"))
    measures = dict(apps.get_model("screening", "Measure").objects.values_list("pk", "key"))
    rows = list(results.order_by("pk").only(
        "key", "screening_id", "student_id", "measure_id", "side", "value", "reached_cap", "fault", "reason_missing",
        "supersedes_id",
    ))
    known = {row.pk: row for row in rows}
    taps = defaultdict(list)
    changed = []
    for row in rows:
        row.origin = row.key
        if row.reason_missing == "withdrawn":
            continue
        same, of_day = _first_to_say(row, known), taps[row.screening_id, row.student_id, row.reason_missing]
        if same is not None:
            row.origin = same.origin
        elif row.supersedes_id is None and row.reason_missing:
            made = [tap for tap in of_day if row.key in _keys(tap.key, measures[row.measure_id], row.side)]
            row.origin = made[0].origin if made else row.key
        if row.reason_missing:
            of_day.append(row)
        if row.origin != row.key:
            changed.append(row)
    results.bulk_update(changed, ["origin"], batch_size=1000)
    if schema_editor.connection.vendor == "postgresql":
        # A row that was written twice has its keys waiting to be checked, and the table is altered next.
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        schema_editor.execute("SET CONSTRAINTS ALL DEFERRED")


def _first_to_say(row, known):
    first, earlier = None, known.get(row.supersedes_id)
    while earlier is not None:
        if _said(earlier) == _said(row):
            first = earlier
        earlier = known.get(earlier.supersedes_id)
    return first


def _said(row):
    return row.value, row.reason_missing, row.fault, row.reached_cap


def _keys(tap, measure, side):
    of_measure = uuid.uuid5(tap, measure)
    return uuid.uuid5(tap, side), of_measure, uuid.uuid5(of_measure, side)


class Migration(migrations.Migration):
    dependencies = [("screening", "0007_poses")]
    operations = [
        migrations.RenameField("result", "uuid", "key"),
        migrations.RenameField("result", "recorded_by", "by"),
        migrations.RenameField("result", "recorded_at", "received_at"),
        migrations.AddField("result", "origin", models.UUIDField(null=True, editable=False)),
        migrations.AddField("result", "tapped_at", models.DateTimeField(null=True)),
        migrations.RunPython(carry_over, migrations.RunPython.noop),
        migrations.AlterField("result", "origin", models.UUIDField(db_index=True, editable=False)),
        migrations.AlterField("result", "tapped_at", models.DateTimeField(default=django.utils.timezone.now)),
    ]
