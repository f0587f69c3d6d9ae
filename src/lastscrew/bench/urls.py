"""Every route of the application: each flow lists its own; here they are put together."""

from __future__ import annotations

from django.urls import path

from lastscrew.bench.access.rights import patterns, rights
from lastscrew.bench.api.app import api
from lastscrew.bench.pages import accounts, depot, devices, drafts, plans, start, teardown

ROUTES = (
    *start.ROUTES,
    *accounts.ROUTES,
    *depot.ROUTES,
    *drafts.ROUTES,
    *teardown.ROUTES,
    *devices.ROUTES,
    *plans.ROUTES,
)
RIGHTS = rights(ROUTES)

urlpatterns = [*patterns(ROUTES), path("api/", api.urls)]
