import django.db.models.deletion
from django.db import migrations, models

KEY = ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID"))


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0010_password_right_code_asked"),
        ("screening", "0004_words_for_families"),
        ("progress", "0010_pain_in_full"),
    ]

    operations = [
        migrations.CreateModel(
            name="TermClassStanding",
            fields=[
                KEY,
                ("as_of", models.DateField()),
                ("stalls", models.JSONField(default=list)),
                ("class_group", models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="+", to="studio.classgroup")),
                ("term", models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="studio.term")),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("class_group", "term"), name="one_class_standing_a_term")],
            },
        ),
        migrations.CreateModel(
            name="TermStanding",
            fields=[
                KEY,
                ("side", models.CharField(blank=True, max_length=1)),
                ("as_of", models.DateField()),
                ("verdict", models.CharField(max_length=12)),
                ("measure_again", models.BooleanField(default=False)),
                ("line", models.JSONField()),
                ("class_group", models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="+", to="studio.classgroup")),
                ("measure", models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="+", to="screening.measure")),
                ("student", models.ForeignKey(
                    on_delete=django.db.models.deletion.CASCADE, related_name="term_standings", to="studio.student")),
                ("term", models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="+", to="studio.term")),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("student", "term", "measure", "side"), name="one_standing_a_line_and_term")],
            },
        ),
    ]
