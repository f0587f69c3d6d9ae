"""Device files: revisions by the hash of their content, drafts, a depot's own photos under the drawing."""

from __future__ import annotations

from django.db import models


class Revision(models.Model):
    """One text of a device file that is or was published. The text never changes."""

    revision = models.CharField(max_length=64, primary_key=True)
    device = models.CharField(max_length=100, db_index=True)
    name = models.CharField(max_length=200)
    kind = models.CharField(max_length=80, blank=True)
    text = models.TextField()
    made_ms = models.BigIntegerField()
    made_by = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)
    # The revision for new jobs; derived from the events ``revision_published``.
    is_current = models.BooleanField(default=False, db_index=True)

    class Meta:
        """By device, newest last."""

        ordering = ("device", "made_ms")

    def __str__(self) -> str:
        return f"{self.name} {self.revision[:8]}"


class Draft(models.Model):
    """A device file that is being written: uploaded, read from a procedure, or drafted from a teardown."""

    class Origin(models.TextChoices):
        """Where it comes from."""

        FILE = "file"
        PROCEDURE = "procedure"
        TEARDOWN = "teardown"
        EDIT = "edit"

    title = models.CharField(max_length=200)
    device = models.CharField(max_length=100, blank=True, db_index=True)
    origin = models.CharField(max_length=12, choices=Origin.choices)
    text = models.TextField(blank=True)
    # The procedure that it was read from, and what was tapped in a teardown.
    source_name = models.CharField(max_length=200, blank=True)
    source_text = models.TextField(blank=True)
    steps = models.JSONField(default=list)
    made_by = models.CharField(max_length=200, blank=True)
    changed_ms = models.BigIntegerField()
    # Raised with each change: two people who edit one draft do not overwrite each other.
    version = models.IntegerField(default=1)
    published = models.CharField(max_length=64, blank=True)

    class Meta:
        """Latest change first."""

        ordering = ("-changed_ms",)

    def __str__(self) -> str:
        return self.title


class DevicePhoto(models.Model):
    """A depot's own photo under the drawing of one side and layer, fixed by two points."""

    device = models.CharField(max_length=100, db_index=True)
    side = models.CharField(max_length=100)
    layer = models.IntegerField(default=0)
    photo = models.CharField(max_length=64)
    # Two points in the picture (shares of width and height) and in the frame (mm).
    points = models.JSONField(default=list)

    class Meta:
        """One for each side and layer."""

        constraints = [
            models.UniqueConstraint(fields=["device", "side", "layer"], name="one_photo_a_layer")
        ]

    def __str__(self) -> str:
        return f"{self.device} {self.side} {self.layer}"
