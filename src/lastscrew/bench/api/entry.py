"""Who may call the interface, and the one shape that every error has."""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NoReturn, cast

from django.core.exceptions import ObjectDoesNotExist, RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse, RawPostDataException
from ninja import NinjaAPI
from ninja.errors import HttpError, ValidationError
from ninja.openapi.schema import OpenAPISchema
from ninja.parser import Parser

from lastscrew import __version__
from lastscrew.bench.access import no_room
from lastscrew.bench.access.gate import READING, role_of
from lastscrew.bench.access.rights import Role, may
from lastscrew.bench.access.tokens import token_of
from lastscrew.problems import InputError, Problem


@dataclass(frozen=True, slots=True)
class Caller:
    """Who calls: a person who is signed in (or at this machine), or another system."""

    name: str


class NotAllowedError(Exception):
    """The caller may not do this; the message says what is missing."""

    def __init__(self, status: int, message: str, remedy: str) -> None:
        """Keep what to answer."""
        super().__init__(message)
        self.status = status
        self.remedy = remedy


class May:
    """Lets in whoever has the scope (a token) or the role (a person who only looks).

    Changes need a token: a page from elsewhere could make a browser send one with a person's cookie, but it can't
    know a token.
    """

    def __init__(self, scope: str, role: Role = "guest") -> None:
        """Keep what is needed."""
        self.scope = scope
        self.role = role

    def __call__(self, request: HttpRequest) -> Caller:
        """Who calls.

        Raises:
            NotAllowedError: Nobody, or somebody who may not.
        """
        scheme, _, text = request.headers.get("Authorization", "").partition(" ")
        if scheme:
            token = token_of(text.strip()) if scheme.lower() == "bearer" else None
            if token is None:
                raise NotAllowedError(401, "this token lets nobody in", "Ask a lead for a token.")
            if self.scope not in token.scopes:
                raise NotAllowedError(
                    403,
                    f"this token lacks the scope {self.scope}",
                    "Ask a lead for one that has it.",
                )
            return Caller(token.name)
        if request.method in READING and may(role_of(request), self.role):
            return Caller(str(request.user))
        raise NotAllowedError(
            401, "a token is needed", "Send the header Authorization: Bearer and the token."
        )


class _Strict(Parser):
    """Reads a body as strictly as a file is read: no key twice, no number that JSON does not have."""

    def parse_body(self, request: HttpRequest) -> dict[str, Any]:
        """The JSON value of a body."""
        read = json.loads(request.body, object_pairs_hook=_once, parse_constant=_no_number)
        return cast("dict[str, Any]", read)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key stands twice")
    return found


def _no_number(text: str) -> NoReturn:
    raise ValueError(text)


class _Api(NinjaAPI):
    """Says in its description how a token is sent."""

    def get_openapi_schema(self, *args: Any, **named: Any) -> OpenAPISchema:  # noqa: ANN401 (as the framework has it)
        """The description."""
        schema = super().get_openapi_schema(*args, **named)
        schema["components"]["securitySchemes"] = {
            "token": {
                "type": "http",
                "scheme": "bearer",
                "description": "A token that a lead made on the page Depot, with the scope that stands at "
                "the address. Who is signed in in a browser may look without one.",
            }
        }
        return schema


def make_api() -> NinjaAPI:
    """The interface without its routes. Nothing is let in by default: each route names its scope."""
    api = _Api(
        title="Lastscrew bench",
        version=__version__,
        description="Units, plans, jobs, records, labels and stock of one depot. Errors have one shape: "
        '{"problems": [{"message", "remedy", "path", …}]}.',
        urls_namespace="api",
        docs_url=None,
        parser=_Strict(),
        auth=_nobody,
    )
    _shape_errors(api)
    return api


def _nobody(_request: HttpRequest) -> Caller:
    raise NotAllowedError(403, "this is not open to anybody", "Use another address.")


_NOT_THERE = (404, Problem("there is no such thing here", "Check the key."))
_FULL = Problem(
    "the disk of the server is full; nothing of this was stored",
    "Make room there, then send it again.",
    code="no_room",
)
_PLAIN: Final[Mapping[type[Exception], tuple[int, Problem]]] = {
    Http404: _NOT_THERE,
    ObjectDoesNotExist: _NOT_THERE,
    KeyError: _NOT_THERE,
    RequestDataTooBig: (413, Problem("this is larger than is taken", "Send less at once.")),
    RawPostDataException: (
        400,
        Problem("this is sent as a form", "Send JSON, as Content-Type: application/json."),
    ),
}
"""Status and words of errors that are always the same."""


def _shape_errors(api: NinjaAPI) -> None:
    def answer(request: HttpRequest, status: int, *problems: Problem) -> HttpResponse:
        shown = [problem.as_json() for problem in problems]
        return api.create_response(request, {"problems": shown}, status=status)

    def always(request: HttpRequest, error: object) -> HttpResponse:
        status, problem = next(told for kind, told in _PLAIN.items() if isinstance(error, kind))
        return answer(request, status, problem)

    @api.exception_handler(NotAllowedError)
    def _not_allowed(request: HttpRequest, error: NotAllowedError) -> HttpResponse:
        response = answer(request, error.status, Problem(str(error), error.remedy))
        if error.status == 401:
            response.headers["WWW-Authenticate"] = "Bearer"
        return response

    @api.exception_handler(InputError)
    def _bad_input(request: HttpRequest, error: InputError) -> HttpResponse:
        return answer(request, 422, *error.problems)

    @api.exception_handler(ValidationError)
    def _not_valid(request: HttpRequest, error: ValidationError) -> HttpResponse:
        return answer(request, 422, *map(_unfit, error.errors[:100]))

    for kind in _PLAIN:
        api.add_exception_handler(kind, always)

    @api.exception_handler(HttpError)
    def _refused(request: HttpRequest, error: HttpError) -> HttpResponse:
        return answer(request, error.status_code, _in_words(error))

    @api.exception_handler(Exception)
    def _broken(request: HttpRequest, error: Exception) -> HttpResponse:
        return answer(request, *_gone_wrong(request, error))


def _gone_wrong(request: HttpRequest, error: Exception) -> tuple[int, Problem]:
    """Status and words of what nobody foresaw, and a line for the terminal."""
    if no_room.has_no_room(error):
        no_room.note(request)
        return no_room.STATUS, _FULL
    logging.getLogger(__name__).error("%s %s", request.method, request.path, exc_info=error)
    return 500, Problem("something went wrong here", "Try again; tell a lead if it stays.")


def _in_words(error: HttpError) -> Problem:
    wrong = str(error)
    if error.status_code == 400:  # the framework says that of a body that _Strict does not read
        wrong = "the body is no JSON, or has a key twice or a number that JSON does not have"
    return Problem(wrong, "Send what the description says.")


def _unfit(item: Mapping[str, Any]) -> Problem:
    return Problem(
        str(item.get("msg", "this does not fit"))[:300],
        path=".".join(map(str, _place(item.get("loc", ()))))[:200],
        code=str(item.get("type", ""))[:60],
    )


def _place(at: Sequence[object]) -> Sequence[object]:
    """The way to a value that does not fit, as whoever sent it knows it: without our own name for the body."""
    return at[2:] if at and at[0] == "body" else at[1:]
