"""Attendance, the class log, heights and answers to pain are rows of the ledger of taps, of one shape."""
import uuid

import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models
from django.db.models import F

NEW = ["height", "painanswer"]


def carry_over(apps, schema_editor):
    for name in ("attendance", "logentry", *NEW):
        apps.get_model("progress", name).objects.update(tapped_at=F("received_at"))
    _own_keys(apps.get_model("progress", "attendance"))
    for name in NEW:
        _first_keys(apps.get_model("progress", name))
    _answers_in_a_row(apps.get_model("progress", "painanswer"))
    if schema_editor.connection.vendor == "postgresql":
        # The table is altered next, and must not have keys waiting to be checked.
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        schema_editor.execute("SET CONSTRAINTS ALL DEFERRED")


def _own_keys(attendance):
    """Whoever did something was here, by the same tap and no word of it: such rows get a key of their own."""
    keys = set(attendance.objects.values_list("key", flat=True))
    seen, changed = set(), []
    for row in attendance.objects.exclude(origin=F("key")).order_by("pk"):
        if row.origin not in keys and row.origin not in seen:
            row.key = uuid.uuid5(row.key, str(row.student_id))
            changed.append(row)
        seen.add(row.origin)
    attendance.objects.bulk_update(changed, ["key"], batch_size=1000)


def _first_keys(model):
    rows = list(model.objects.only("pk"))
    for row in rows:
        row.key = row.origin = uuid.uuid4()
    model.objects.bulk_update(rows, ["key", "origin"], batch_size=500)


def _answers_in_a_row(answers):
    """Of several answers to one report each stood in the place of the one before it."""
    last, changed = {}, []
    for row in answers.objects.order_by("pk"):
        row.supersedes_id = last.get(row.report_id)
        last[row.report_id] = row.pk
        changed.append(row)
    answers.objects.bulk_update(changed, ["supersedes"], batch_size=500)


def _key_and_origin(name):
    return [
        migrations.AlterField(name, "key", models.UUIDField(db_index=True, default=uuid.uuid4, editable=False)),
        migrations.AlterField(name, "origin", models.UUIDField(db_index=True, editable=False)),
        migrations.AlterField(name, "tapped_at", models.DateTimeField(default=django.utils.timezone.now)),
    ]


class Migration(migrations.Migration):
    dependencies = [("progress", "0014_poses"), ("screening", "0008_ledger_of_taps")]
    operations = [
        migrations.RemoveConstraint("attendance", "one_attendance_a_tap"),
        migrations.RemoveConstraint("logentry", "one_log_entry_a_tap"),
        *[migrations.RenameField(name, "tap", "key") for name in ("attendance", "logentry")],
        *[migrations.RenameField(name, "at", "received_at") for name in ("attendance", "logentry")],
        migrations.AddConstraint("attendance", models.UniqueConstraint(
            fields=("key", "student"), name="one_attendance_a_tap")),
        migrations.AddConstraint("logentry", models.UniqueConstraint(
            fields=("key", "student", "exercise"), name="one_log_entry_a_tap")),
        migrations.RenameField("height", "measured_by", "by"),
        migrations.RenameField("height", "recorded_at", "received_at"),
        migrations.RenameField("painanswer", "answered_by", "by"),
        migrations.RenameField("painanswer", "answered_at", "received_at"),
        *[migrations.AddField(name, field, models.UUIDField(null=True)) for name in NEW for field in ("key", "origin")],
        migrations.AddField("painanswer", "supersedes", models.OneToOneField(
            "progress.painanswer", django.db.models.deletion.PROTECT, null=True, related_name="superseded_by",
        )),
        *[
            migrations.AddField(name, "tapped_at", models.DateTimeField(null=True))
            for name in ("attendance", "logentry", *NEW)
        ],
        migrations.RunPython(carry_over, migrations.RunPython.noop),
        *[each for name in ("attendance", "logentry", *NEW) for each in _key_and_origin(name)],
    ]
