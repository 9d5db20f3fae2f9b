import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

KINDS = [("roster", "roster"), ("results", "results")]


class Migration(migrations.Migration):
    dependencies = [("studio", "0011_how_to_reach_the_studio")]

    operations = [
        migrations.CreateModel(
            name="KeptImport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(choices=KINDS, max_length=10)),
                ("filename", models.CharField(max_length=200)),
                ("at", models.DateTimeField(auto_now_add=True)),
                ("counts", models.JSONField(default=dict)),
                ("headings", models.JSONField(default=list)),
                ("left_out", models.JSONField(default=list)),
                ("by", models.ForeignKey(
                    null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+",
                    to=settings.AUTH_USER_MODEL)),
                ("class_group", models.ForeignKey(
                    null=True, on_delete=django.db.models.deletion.SET_NULL, related_name="+",
                    to="studio.classgroup")),
                ("term", models.ForeignKey(
                    null=True, on_delete=django.db.models.deletion.SET_NULL, related_name="+", to="studio.term")),
            ],
            options={"ordering": ["-pk"]},
        ),
    ]
