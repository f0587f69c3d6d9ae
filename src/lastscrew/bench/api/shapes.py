"""Shapes that several routes answer with."""

from __future__ import annotations

from typing import Annotated

from ninja import Field, Router, Schema

router = Router()
"""All routes hang on one router: two routers can't share an address."""

Key = Annotated[str, Field(min_length=1, max_length=100)]


class ProblemOut(Schema):
    """One thing that is wrong."""

    message: str
    remedy: str = ""
    path: str = ""
    code: str = ""
    severity: str = "error"
    file: str = ""
    line: int | None = None
    column: int | None = None


class Problems(Schema):
    """Everything that is wrong."""

    problems: list[ProblemOut]


class UnitOut(Schema):
    """A unit, without anything that identifies its owner."""

    key: str
    number: int
    device: str
    device_words: str
    serial: str
    asset_tag: str
    stage: str
    place: str
    waiting_for: str
    waiting_until_ms: int | None
    due_ms: int | None
    worker: str
    hazard: str
    outcome: str
    run: str
    taken_in_ms: int
    changed_ms: int
    gone_ms: int | None


ERRORS = {400: Problems, 401: Problems, 403: Problems, 404: Problems, 422: Problems}
