"""Tokens of other systems: made once, shown once, kept as a hash; each may do what its scopes name."""

from __future__ import annotations

import hashlib
import secrets
from datetime import timedelta
from typing import Final

from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from lastscrew.bench.models import Person, Token

SCOPES: Final = {
    "units:read": _("look at units"),
    "units:write": _("take units in"),
    "plans:read": _("plan"),
    "runs:read": _("look at jobs and their events"),
    "runs:write": _("add events to jobs"),
    "records:read": _("fetch records"),
    "labels:read": _("fetch labels"),
    "stock:read": _("look at the stock"),
}
"""Scope to what it allows, in words."""

PREFIX = "lsc_"
_USED_EVERY = timedelta(minutes=1)


def make_token(name: str, scopes: list[str], person: Person) -> str:
    """A new token; the text returned is the only copy."""
    text = PREFIX + secrets.token_urlsafe(32)
    Token.objects.create(name=name, sha256=_hash(text), scopes=sorted(scopes), made_by=person)
    return text


def token_of(text: str) -> Token | None:
    """The token that is open under this text, None where there is none."""
    if not text.startswith(PREFIX) or len(text) > 200:
        return None
    token = Token.objects.filter(sha256=_hash(text), shut=False).first()
    now = timezone.now()
    # When it was used last is for people; it need not be written at every call.
    if token is not None and (token.used_at is None or now - token.used_at > _USED_EVERY):
        Token.objects.filter(pk=token.pk).update(used_at=now)
    return token


def _hash(text: str) -> str:
    # The text has 256 bits of chance: a plain hash is enough, no password hash is needed.
    return hashlib.sha256(text.encode()).hexdigest()
