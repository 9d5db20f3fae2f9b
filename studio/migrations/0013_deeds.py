import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

DEEDS = ["changed", "reopened", "left", "returned", "removed", "prolonged", "stopped", "new_password"]


class Migration(migrations.Migration):
    dependencies = [("studio", "0012_kept_imports")]

    operations = [
        migrations.CreateModel(
            name="Deed",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("what", models.CharField(max_length=12, choices=[(name, name) for name in DEEDS])),
                ("table", models.CharField(max_length=60)),
                ("row_key", models.BigIntegerField()),
                ("at", models.DateTimeField(auto_now_add=True)),
                ("by", models.ForeignKey(
                    null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+",
                    to=settings.AUTH_USER_MODEL,
                )),
            ],
            options={"indexes": [models.Index(fields=["table", "row_key"], name="deeds_of_a_row")]},
        ),
    ]
