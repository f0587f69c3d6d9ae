from django.db import migrations, models


class Migration(migrations.Migration):
    """Whose tray and bags a label is; the rebuild after it fills the columns."""

    dependencies = [
        ("bench", "0004_folded_keys"),
    ]

    operations = [
        migrations.AddField(model_name="unit", name="trays", field=models.JSONField(default=list)),
        migrations.AddField(
            model_name="unit",
            name="tray_keys",
            field=models.TextField(blank=True, default=""),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="unit", name="trays_position", field=models.BigIntegerField(default=0)
        ),
    ]
