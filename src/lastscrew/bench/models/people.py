"""Accounts, tokens of other systems, and tries to sign in."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _


class Person(AbstractUser):
    """Somebody who works here."""

    class Role(models.TextChoices):
        """What one may do; each may do what the one before it may."""

        GUEST = "guest", _("guest: looks")
        TECHNICIAN = "technician", _("technician: works")
        LEAD = "lead", _("lead: publishes, waives, manages")

    role = models.CharField(max_length=12, choices=Role.choices, default=Role.GUEST)
    shown_name = models.CharField(max_length=80, blank=True)
    # A beginner's work is looked at by a second person before it is closed.
    is_beginner = models.BooleanField(default=False)

    class Meta:
        """Order of lists."""

        ordering = ("username",)

    def __str__(self) -> str:
        return self.shown_name or self.username


class Token(models.Model):
    """Lets another system in: only what its scopes name, only by a secret of which we keep the hash."""

    name = models.CharField(max_length=80, unique=True)
    sha256 = models.CharField(max_length=64, unique=True)
    scopes = models.JSONField(default=list)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT)
    made_at = models.DateTimeField(auto_now_add=True)
    used_at = models.DateTimeField(null=True, blank=True)
    shut = models.BooleanField(default=False)

    class Meta:
        """Order of lists."""

        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class LoginTry(models.Model):
    """A try to sign in that failed, kept to slow down guessing."""

    name = models.CharField(max_length=150, db_index=True)
    address = models.CharField(max_length=64, db_index=True)
    at = models.DateTimeField(auto_now_add=True, db_index=True)

    def __str__(self) -> str:
        return f"{self.name} {self.at:%Y-%m-%d %H:%M}"
