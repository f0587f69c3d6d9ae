"""The interface with all its routes."""

from __future__ import annotations

from lastscrew.bench.api.entry import make_api
from lastscrew.bench.api.routes import router

api = make_api()
api.add_router("", router)
