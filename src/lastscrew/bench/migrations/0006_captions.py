from django.db import migrations, models


class Migration(migrations.Migration):
    """What the owner's photos show is kept with the owner's data, and goes with it."""

    dependencies = [
        ("bench", "0005_trays"),
    ]

    operations = [
        migrations.AddField(
            model_name="ownerdata", name="captions", field=models.JSONField(default=dict)
        ),
    ]
