from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("studio", "0010_password_right_code_asked")]

    operations = [
        migrations.AddField(
            model_name="studio",
            name="email",
            field=models.EmailField(
                blank=True, help_text="For families and on the note for a clinician. Empty: none is printed.",
                max_length=254, verbose_name="e-mail",
            ),
        ),
        migrations.AddField(
            model_name="studio",
            name="phone",
            field=models.CharField(
                blank=True, help_text="For families and on the note for a clinician. Empty: none is printed.",
                max_length=40, verbose_name="telephone",
            ),
        ),
    ]
