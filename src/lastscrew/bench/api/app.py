"""The interface with all its routes."""

from __future__ import annotations

from lastscrew.bench.api import routes, units
from lastscrew.bench.api.entry import make_api
from lastscrew.bench.api.shapes import router

LISTED = (routes, units)
"""Modules whose routes hang on the router once they are imported."""

api = make_api()
api.add_router("", router)
