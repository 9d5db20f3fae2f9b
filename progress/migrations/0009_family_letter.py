from django.conf import settings
from django.db import migrations, models

KINDS = [("record", "student record"), ("letter", "family letter")]


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0008_consent_and_keys"),
        ("progress", "0008_erasures"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="LetterText",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("text", models.TextField(blank=True, max_length=1500, verbose_name="your own words")),
                ("written_at", models.DateTimeField(auto_now_add=True)),
                ("student", models.ForeignKey(
                    on_delete=models.PROTECT, related_name="letter_texts", to="studio.student")),
                ("term", models.ForeignKey(on_delete=models.PROTECT, related_name="+", to="studio.term")),
                ("written_by", models.ForeignKey(
                    on_delete=models.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL)),
            ],
            options={
                "ordering": ["-pk"],
                "indexes": [models.Index(fields=["student", "term"], name="letter_of_a_term")],
            },
        ),
        migrations.AlterField("issuedreport", "kind", models.CharField(
            choices=KINDS, max_length=10, verbose_name="kind")),
        migrations.AlterField("reportrun", "kind", models.CharField(
            choices=KINDS, max_length=10, verbose_name="kind")),
    ]
