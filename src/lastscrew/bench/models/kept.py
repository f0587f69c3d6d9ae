"""What is kept and never changed: events, and what they refer to by id."""

from __future__ import annotations

from django.db import models


class StoredEvent(models.Model):
    """One event, run or depot, as it was acknowledged. Rows are added, never changed or taken away.

    ``body`` is the event's JSON object as :mod:`lastscrew.run.lines` writes it, envelope included; the
    other columns repeat what is searched by.
    """

    position = models.BigAutoField(primary_key=True)
    key = models.CharField(max_length=100, unique=True)
    name = models.CharField(max_length=30, db_index=True)
    # The job and its version after this event (1, 2, …); both empty for depot events.
    run = models.CharField(max_length=100, blank=True)
    number = models.IntegerField(null=True, blank=True)
    unit = models.CharField(max_length=100, blank=True, db_index=True)
    client = models.CharField(max_length=100, blank=True)
    sequence = models.BigIntegerField(null=True, blank=True)
    stored_ms = models.BigIntegerField(db_index=True)
    by = models.CharField(max_length=200, blank=True)
    body = models.JSONField()

    class Meta:
        """A job has one event for each version; a screen one for each of its numbers in a job."""

        ordering = ("position",)
        constraints = [
            models.UniqueConstraint(
                fields=["run", "number"], condition=~models.Q(run=""), name="one_event_a_version"
            ),
            models.UniqueConstraint(
                fields=["run", "client", "sequence"],
                condition=~models.Q(run="") & ~models.Q(client=""),
                name="one_event_a_number",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position} {self.name}"


class WaitingEvent(models.Model):
    """An event that came before one that its screen sent earlier: stored, in force when the gap is filled."""

    key = models.CharField(max_length=100, unique=True)
    run = models.CharField(max_length=100, db_index=True)
    client = models.CharField(max_length=100)
    sequence = models.BigIntegerField()
    by = models.CharField(max_length=200, blank=True)
    stored_ms = models.BigIntegerField()
    body = models.JSONField()

    class Meta:
        """By screen, in its order."""

        ordering = ("run", "client", "sequence")
        constraints = [
            models.UniqueConstraint(
                fields=["run", "client", "sequence"], name="one_waiting_event_a_number"
            )
        ]

    def __str__(self) -> str:
        return f"{self.run} {self.client} {self.sequence}"


class Branch(models.Model):
    """What a screen did on a job without knowing what another one had done meanwhile.

    Both histories are shown, and a person decides: taken over behind what is there, or set aside. Its events are
    kept either way.
    """

    class State(models.TextChoices):
        """What became of it."""

        OPEN = "open"
        TAKEN = "taken"
        SET_ASIDE = "set_aside"

    key = models.CharField(max_length=100, unique=True)
    run = models.CharField(max_length=100, db_index=True)
    client = models.CharField(max_length=100)
    base = models.IntegerField()
    made_ms = models.BigIntegerField()
    # The events in the order in which the screen sent them, as JSON objects.
    events = models.JSONField(default=list)
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)

    class Meta:
        """Oldest first."""

        ordering = ("made_ms", "key")

    def __str__(self) -> str:
        return f"{self.run} {self.client} {self.state}"


class OwnerData(models.Model):
    """What identifies an owner, and their words: outside the events, by the unit's key; can be erased."""

    unit = models.CharField(max_length=100, primary_key=True)
    name = models.CharField(max_length=200, blank=True)
    contact = models.CharField(max_length=300, blank=True)
    complaint = models.TextField(blank=True)
    # What the owner's photos show, in words, by the hash of each.
    captions = models.JSONField(default=dict)
    erase_after = models.DateField(null=True, blank=True, db_index=True)
    erased = models.BooleanField(default=False)

    def __str__(self) -> str:
        return self.unit


class Photo(models.Model):
    """A picture by the hash of its content; the file lies in the folder of photos."""

    sha256 = models.CharField(max_length=64, primary_key=True)
    media_type = models.CharField(max_length=20)
    width = models.IntegerField()
    height = models.IntegerField()
    size = models.IntegerField()
    # The unit whose owner may have it erased; empty for pictures of a device in general.
    unit = models.CharField(max_length=100, blank=True, db_index=True)
    is_owners = models.BooleanField(default=False)
    # Further units under which the same picture was kept.
    also = models.JSONField(default=list)
    erased = models.BooleanField(default=False)
    stored_ms = models.BigIntegerField()

    def __str__(self) -> str:
        return self.sha256[:12]
