"""Signing in: guessing is slowed down, the first account needs a code from the machine itself."""

from __future__ import annotations

import hmac
import os
import secrets
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.contrib.auth import authenticate
from django.db.models import Q
from django.http import HttpRequest
from django.utils import timezone

from lastscrew.bench.config import Config
from lastscrew.bench.models import LoginTry, Person

WINDOW = timedelta(minutes=15)
MOST_FOR_NAME = 5
MOST_FOR_ADDRESS = 30
"""Failed tries in the window after which nobody is let in under that name or from that address (our own figures)."""

_ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without signs that are mistaken for each other."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What a try to sign in came to: a person, or why not."""

    person: Person | None
    must_wait: bool = False


def sign_in(request: HttpRequest, name: str, password: str) -> Tried:
    """Check name and password, unless too many tries have failed just now."""
    address = address_of(request)
    since = timezone.now() - WINDOW
    LoginTry.objects.filter(at__lt=since).delete()
    failed = LoginTry.objects.filter(at__gte=since)
    if (
        failed.filter(name=name[:150]).count() >= MOST_FOR_NAME
        or failed.filter(address=address).count() >= MOST_FOR_ADDRESS
    ):
        return Tried(None, must_wait=True)
    person = authenticate(request, username=name, password=password)
    if not isinstance(person, Person):
        LoginTry.objects.create(name=name[:150], address=address)
        return Tried(None)
    LoginTry.objects.filter(name=name[:150]).delete()
    return Tried(person)


def address_of(request: HttpRequest) -> str:
    """The address of the machine that asks.

    Behind a proxy that is what the proxy adds at the end of ``X-Forwarded-For``; what stands before it the caller
    may have made up. Without one the header is a stranger's word and is not looked at.
    """
    asked_by = str(request.META.get("REMOTE_ADDR", ""))
    if settings.CONFIG.behind_proxy:
        passed_on = str(request.META.get("HTTP_X_FORWARDED_FOR", ""))
        asked_by = passed_on.rpartition(",")[2].strip() or asked_by
    return asked_by[:64]


def needs_first_account() -> bool:
    """True while nobody has an account with a password."""
    return not Person.objects.filter(~Q(password__startswith="!"), is_active=True).exists()  # noqa: S106 (how "no password" is kept)


def first_code(config: Config) -> str:
    """The code that the first account needs: on the terminal and in a file for its owner only."""
    file = _code_file(config)
    try:
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return file.read_text("ascii").strip()
    with os.fdopen(descriptor, "w", encoding="ascii") as out:
        out.write("-".join("".join(secrets.choice(_ALPHABET) for _ in range(4)) for _ in range(3)))
    return file.read_text("ascii").strip()


def is_first_code(config: Config, given: str) -> bool:
    """True for the code of :func:`first_code`, however it is spaced and in small letters too."""
    return hmac.compare_digest(_plain(first_code(config)), _plain(given[:100]))


def forget_first_code(config: Config) -> None:
    """The first account is there: the code is of no use any more."""
    _code_file(config).unlink(missing_ok=True)


def _plain(code: str) -> bytes:
    return "".join(sign for sign in code.upper() if sign.isalnum()).encode()


def _code_file(config: Config) -> Path:
    return config.data / "first-account.code"
