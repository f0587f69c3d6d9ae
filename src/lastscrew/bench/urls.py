"""Every route of the application: each flow lists its own; here they are put together."""

from __future__ import annotations

from lastscrew.bench.access.rights import patterns, rights
from lastscrew.bench.pages import accounts, start

ROUTES = (*start.ROUTES, *accounts.ROUTES)
RIGHTS = rights(ROUTES)

urlpatterns = patterns(ROUTES)
