# Written by Django.

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("web", "0001_initial")]

    operations = [
        migrations.CreateModel(
            name="WatchBeat",
            fields=[
                ("clinic", models.CharField(max_length=64, primary_key=True, serialize=False)),
                ("at", models.CharField(max_length=20)),
            ],
        ),
    ]
