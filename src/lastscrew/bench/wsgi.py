"""The application as a WSGI server calls it, with its style sheets and scripts in front."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application
from whitenoise import WhiteNoise

from lastscrew.bench import assets

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lastscrew.bench.settings")


def make_application() -> WhiteNoise:
    """The whole application; files are listed once, here."""
    served = WhiteNoise(get_wsgi_application(), max_age=365 * 24 * 3600)
    served.add_files(str(assets.FOLDER), prefix=assets.static_url().strip("/"))
    return served


application = make_application()
