"""The application as a WSGI server calls it, with its style sheets and scripts in front."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

from lastscrew.bench import assets
from lastscrew.bench.serving.chunked import Chunked
from lastscrew.bench.serving.files import Files
from lastscrew.bench.serving.whole import load_whole

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lastscrew.bench.settings")


def make_application() -> Files:
    """The whole application; its files are those that lay there when the process started."""
    return Files(Chunked(get_wsgi_application()), assets.static_url(), assets.contents())


def __getattr__(name: str) -> Files:
    """The application for another WSGI server, all loaded; ``lastscrew serve`` loads beside its first requests."""
    if name != "application":
        raise AttributeError(name)
    made = globals()[name] = make_application()
    load_whole()
    return made
