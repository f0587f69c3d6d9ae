from django.db import migrations, models


class Migration(migrations.Migration):
    """One spelling of serial number, tag and place; the rebuild after it fills them."""

    dependencies = [
        ("bench", "0003_way_of_a_job"),
    ]

    operations = [
        migrations.AddField(
            model_name="unit",
            name=name,
            field=models.CharField(blank=True, db_index=True, max_length=200, default=""),
            preserve_default=False,
        )
        for name in ("serial_key", "asset_key", "place_key")
    ]
