"""Shapes that several routes answer with."""

from __future__ import annotations

from typing import Annotated, Any

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


ERRORS = dict.fromkeys((400, 401, 403, 404, 413, 422, 500, 507), Problems)
"""The one shape that every error has, whatever went wrong."""


def told(scope: str, media_type: str = "", *, may_be_late: bool = False) -> dict[str, Any]:
    """What the description says of a route beyond its shapes.

    Args:
        scope: What a token needs.
        media_type: Of the answer, where it is no JSON.
        may_be_late: The answer may be 202 (it is being made: ask again) or 503 (it can't be made here).
    """
    responses: dict[int, Any] = {}
    if media_type:
        responses[200] = {"description": "OK", "content": {media_type: {}}}
    if may_be_late:
        shape = {"application/json": {"schema": {"$ref": "#/components/schemas/Problems"}}}
        late = "It is being made: ask again after the seconds that Retry-After names."
        responses[202] = {"description": late, "content": shape}
        responses[503] = {"description": "It can't be made here.", "content": shape}
    return {"security": [{"token": [scope]}], "responses": responses}
