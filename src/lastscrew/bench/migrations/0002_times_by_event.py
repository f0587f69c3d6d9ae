import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("bench", "0001_initial")]

    operations = [
        migrations.AddField("run", "set_apart_ms", models.BigIntegerField(default=0)),
        migrations.AddField("run", "stage", models.CharField(blank=True, max_length=12)),
        migrations.AddField("item", "counted_position", models.BigIntegerField(default=0)),
        migrations.AddField("photo", "also", models.JSONField(default=list)),
        # Derived, and made anew by ``lastscrew rebuild``: nothing is lost with the table.
        migrations.DeleteModel("StageTime"),
        migrations.CreateModel(
            name="StageTime",
            fields=[
                ("event", models.CharField(max_length=100, primary_key=True, serialize=False)),
                ("device", models.CharField(db_index=True, max_length=100)),
                ("limb", models.CharField(max_length=3)),
                ("joint", models.CharField(max_length=100)),
                ("taken_ms", models.IntegerField()),
                ("person", models.CharField(blank=True, max_length=200)),
                ("is_outlier", models.BooleanField(default=False)),
                ("at_ms", models.BigIntegerField()),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="stage_times",
                        to="bench.run",
                    ),
                ),
            ],
            options={"ordering": ("device", "joint", "at_ms")},
        ),
    ]
