"""What is worked out from events, kept so that pages are quick; ``lastscrew rebuild`` makes it anew."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class Unit(models.Model):
    """A machine that is or was here."""

    class Stage(models.TextChoices):
        """How far it is, from what has happened to it."""

        TAKEN_IN = "taken_in", _("taken in")
        SET_APART = "set_apart", _("set apart: hazard")
        AT_WORK = "at_work", _("at work")
        PARKED = "parked", _("parked")
        TO_PROVE = "to_prove", _("to prove")
        PROVEN = "proven", _("proven")
        GONE = "gone", _("gone")

    key = models.CharField(max_length=100, primary_key=True)
    number = models.IntegerField(unique=True)
    device = models.CharField(max_length=100, blank=True, db_index=True)
    device_words = models.CharField(max_length=200, blank=True)
    serial = models.CharField(max_length=200, blank=True, db_index=True)
    asset_tag = models.CharField(max_length=200, blank=True, db_index=True)
    accessories = models.JSONField(default=list)
    seals = models.CharField(max_length=200, blank=True)
    condition = models.TextField(blank=True)
    may_be_lost = models.TextField(blank=True)
    agreed_by = models.CharField(max_length=20, blank=True)
    way_to_test = models.CharField(max_length=20, blank=True)
    pack = models.CharField(max_length=10, default="unseen")
    liquid = models.BooleanField(default=False)
    dropped = models.BooleanField(default=False)
    checks_before = models.JSONField(default=dict)
    stage = models.CharField(max_length=12, choices=Stage.choices, db_index=True)
    place = models.CharField(max_length=200, blank=True, db_index=True)
    waiting_for = models.CharField(max_length=400, blank=True)
    waiting_until_ms = models.BigIntegerField(null=True, blank=True, db_index=True)
    due_ms = models.BigIntegerField(null=True, blank=True, db_index=True)
    worker = models.CharField(max_length=200, blank=True, db_index=True)
    hazard = models.CharField(max_length=20, blank=True)
    outcome = models.CharField(max_length=30, blank=True)
    run = models.CharField(max_length=100, blank=True)
    taken_in_ms = models.BigIntegerField(db_index=True)
    changed_ms = models.BigIntegerField(db_index=True)
    gone_ms = models.BigIntegerField(null=True, blank=True)
    custody = models.JSONField(default=list)
    # Labels of the tray and the bags of its job, as they were told; folded, each in a line of its own; and the
    # position of the event that told them: a tray is that of whoever was told last.
    trays = models.JSONField(default=list)
    tray_keys = models.TextField(blank=True)
    trays_position = models.BigIntegerField(default=0)
    # One spelling of what is compared (depot/folded.py), the same on every database.
    serial_key = models.CharField(max_length=200, blank=True, db_index=True)
    asset_key = models.CharField(max_length=200, blank=True, db_index=True)
    place_key = models.CharField(max_length=200, blank=True, db_index=True)
    # Serial, asset tag, number, device, place, folded: what the search field looks in.
    search = models.TextField(blank=True)

    class Meta:
        """Latest change first; the overview asks for those that are still here."""

        ordering = ("-changed_ms", "key")
        indexes = [models.Index(fields=["stage", "-changed_ms"], name="unit_stage_changed")]

    def __str__(self) -> str:
        return f"U{self.number:06d}"


class Run(models.Model):
    """A job on a unit, as its events leave it."""

    key = models.CharField(max_length=100, primary_key=True)
    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="runs")
    device = models.CharField(max_length=100, db_index=True)
    revision = models.CharField(max_length=64)
    version = models.IntegerField(default=0)
    targets = models.JSONField(default=list)
    open_joints = models.JSONField(default=list)
    # How many joints were opened in all, and which way the last step went (in, out, empty for none yet).
    opened_count = models.IntegerField(default=0)
    last_limb = models.CharField(max_length=3, blank=True)
    is_paused = models.BooleanField(default=False)
    is_parked = models.BooleanField(default=False)
    is_split = models.BooleanField(default=False)
    # The stage that this job gives its unit, hazards and leaving left out.
    stage = models.CharField(max_length=12, blank=True)
    outcome = models.CharField(max_length=30, blank=True, db_index=True)
    worker = models.CharField(max_length=200, blank=True)
    started_ms = models.BigIntegerField(db_index=True)
    changed_ms = models.BigIntegerField()
    finished_ms = models.BigIntegerField(null=True, blank=True)
    # Time at work, and time that nobody called a pause and that is too long for the step it led to.
    hands_on_ms = models.BigIntegerField(default=0)
    set_apart_ms = models.BigIntegerField(default=0)

    class Meta:
        """Latest start first."""

        ordering = ("-started_ms", "key")

    def __str__(self) -> str:
        return self.key


class PartLineState(models.Model):
    """A line of an order, as its last event leaves it."""

    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="part_lines")
    line = models.CharField(max_length=100)
    state = models.CharField(max_length=20, db_index=True)
    count = models.IntegerField(default=1)
    order_code = models.CharField(max_length=200, blank=True)
    what = models.CharField(max_length=200, blank=True)
    changed_ms = models.BigIntegerField()

    class Meta:
        """One state for each line of a job."""

        ordering = ("run", "line")
        constraints = [models.UniqueConstraint(fields=["run", "line"], name="one_state_a_line")]

    def __str__(self) -> str:
        return f"{self.line} {self.state}"


class Item(models.Model):
    """How much of something lies in stock: an order code, a kind of fastener, a supply."""

    code = models.CharField(max_length=100, primary_key=True)
    count = models.FloatField(default=0)
    place = models.CharField(max_length=200, blank=True)
    # Position of the event that counted it last: what is taken back from before that changes nothing.
    counted_position = models.BigIntegerField(default=0)
    changed_ms = models.BigIntegerField()

    class Meta:
        """By code."""

        ordering = ("code",)

    def __str__(self) -> str:
        return f"{self.code}: {self.count:g}"


class StageTime(models.Model):
    """How long one step really took: opening or closing one joint, pauses left out, outliers marked.

    The rule stands in :mod:`lastscrew.bench.depot.clocks`.
    """

    event = models.CharField(max_length=100, primary_key=True)
    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="stage_times")
    device = models.CharField(max_length=100, db_index=True)
    limb = models.CharField(max_length=3)
    joint = models.CharField(max_length=100)
    taken_ms = models.IntegerField()
    person = models.CharField(max_length=200, blank=True)
    is_outlier = models.BooleanField(default=False)
    at_ms = models.BigIntegerField()

    class Meta:
        """By device and joint."""

        ordering = ("device", "joint", "at_ms")

    def __str__(self) -> str:
        return f"{self.joint} {self.taken_ms}"
