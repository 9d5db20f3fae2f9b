"""What is carried of a line over the end of a term. Everybody is judged anew by the next start: lines are written
shorter, and say what was judged since the term before last only."""
import django.db.models.deletion
from django.db import migrations, models


def throw_standings_away(apps, schema_editor):
    """They are a cache; `first_start`, which every start runs after this, judges where nothing is judged."""
    for name in ("Standing", "ClassStanding"):
        apps.get_model("progress", name).objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [
        ("progress", "0015_ledger_of_taps"),
        ("studio", "0012_kept_imports"),
    ]

    operations = [
        migrations.CreateModel(
            name="CarriedOver",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("until", models.DateField()),
                ("made_from", models.CharField(max_length=64)),
                ("lines", models.JSONField(default=list)),
                ("student", models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="+", to="studio.student")),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("student", "until"), name="carried_over_once")],
            },
        ),
        migrations.RunPython(throw_standings_away, migrations.RunPython.noop),
    ]
