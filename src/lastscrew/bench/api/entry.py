"""Who may call the interface, and the one shape that every error has."""

from __future__ import annotations

import logging
from dataclasses import dataclass

from django.core.exceptions import ObjectDoesNotExist, RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse
from ninja import NinjaAPI
from ninja.errors import HttpError, ValidationError

from lastscrew import __version__
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


def make_api() -> NinjaAPI:
    """The interface without its routes. Nothing is let in by default: each route names its scope."""
    api = NinjaAPI(
        title="Lastscrew bench",
        version=__version__,
        description="Units, plans, jobs, records, labels and stock of one depot. Errors have one shape: "
        '{"problems": [{"message", "remedy", "path", …}]}.',
        urls_namespace="api",
        docs_url=None,
        auth=_nobody,
    )
    _shape_errors(api)
    return api


def _nobody(_request: HttpRequest) -> Caller:
    raise NotAllowedError(403, "this is not open to anybody", "Use another address.")


def _shape_errors(api: NinjaAPI) -> None:
    def answer(request: HttpRequest, status: int, *problems: Problem) -> HttpResponse:
        shown = [problem.as_json() for problem in problems]
        return api.create_response(request, {"problems": shown}, status=status)

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
        problems = [
            Problem(
                str(item.get("msg", "this does not fit"))[:300],
                path=".".join(str(at) for at in item.get("loc", ())[1:])[:200],
                code=str(item.get("type", ""))[:60],
            )
            for item in error.errors[:100]
        ]
        return answer(request, 422, *problems)

    @api.exception_handler(Http404)
    @api.exception_handler(ObjectDoesNotExist)
    @api.exception_handler(KeyError)
    def _not_there(request: HttpRequest, _error: Exception) -> HttpResponse:
        return answer(request, 404, Problem("there is no such thing here", "Check the key."))

    @api.exception_handler(HttpError)
    def _refused(request: HttpRequest, error: HttpError) -> HttpResponse:
        return answer(
            request, error.status_code, Problem(str(error), "Send what the description says.")
        )

    @api.exception_handler(RequestDataTooBig)
    def _too_large(request: HttpRequest, _error: Exception) -> HttpResponse:
        return answer(request, 413, Problem("this is larger than is taken", "Send less at once."))

    @api.exception_handler(Exception)
    def _broken(request: HttpRequest, error: Exception) -> HttpResponse:
        logging.getLogger(__name__).error("%s %s", request.method, request.path, exc_info=error)
        return answer(
            request,
            500,
            Problem("something went wrong here", "Try again; tell a lead if it stays."),
        )
