"""Every route of the application: each flow lists its own; here they are put together."""

from __future__ import annotations

from django.urls import path

from lastscrew.bench.access.rights import patterns, rights
from lastscrew.bench.api.app import api
from lastscrew.bench.pages import (
    accounts,
    batch,
    depot,
    devices,
    drafts,
    faults,
    find,
    hand_back,
    histories,
    history,
    labels,
    overview,
    park,
    photos,
    plans,
    prove,
    records,
    start,
    stock,
    take_in,
    teardown,
    units,
    work,
)

ROUTES = (
    *overview.ROUTES,
    *start.ROUTES,
    *find.ROUTES,
    *labels.ROUTES,
    *batch.ROUTES,
    *units.ROUTES,
    *records.ROUTES,
    *history.ROUTES,
    *hand_back.ROUTES,
    *stock.ROUTES,
    *photos.ROUTES,
    *take_in.ROUTES,
    *accounts.ROUTES,
    *depot.ROUTES,
    *drafts.ROUTES,
    *teardown.ROUTES,
    *devices.ROUTES,
    *plans.ROUTES,
    *faults.ROUTES,
    *work.ROUTES,
    *park.ROUTES,
    *prove.ROUTES,
    *histories.ROUTES,
)
RIGHTS = rights(ROUTES)

urlpatterns = [*patterns(ROUTES), path("api/", api.urls)]
