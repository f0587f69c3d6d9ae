"""The bench application as Django knows it."""

from __future__ import annotations

from django.apps import AppConfig


class BenchConfig(AppConfig):
    """Names the application; there is only one."""

    name = "lastscrew.bench"
    label = "bench"
    verbose_name = "Bench"
    default_auto_field = "django.db.models.BigAutoField"
