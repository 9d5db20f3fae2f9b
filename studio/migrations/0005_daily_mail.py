from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('studio', '0004_tablets_and_pins'),
    ]

    operations = [
        migrations.AddField(
            model_name='studio',
            name='sends_digest',
            field=models.BooleanField(default=False, verbose_name='a mail each day to everyone who has something to see to'),
        ),
        migrations.AddField(
            model_name='user',
            name='digest_sent_on',
            field=models.DateField(editable=False, null=True),
        ),
        migrations.AddField(
            model_name='user',
            name='gets_digest',
            field=models.BooleanField(default=False, verbose_name='a mail each day that has something to see to'),
        ),
    ]
