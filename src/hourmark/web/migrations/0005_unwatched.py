# Written by Django.

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("web", "0004_link")]

    operations = [
        migrations.AddField(
            model_name="watchbeat",
            name="unwatched",
            field=models.TextField(blank=True, default=""),
            preserve_default=False,
        ),
    ]
