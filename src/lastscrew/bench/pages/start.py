"""The way in to the application: whether it can serve, and what works without the network."""

from __future__ import annotations

from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.i18n import set_language

from lastscrew.bench import assets
from lastscrew.bench.access.rights import Route


def healthz(_request: HttpRequest) -> JsonResponse:
    """Can it serve? 200 with what it runs on, or 503."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT COUNT(*) FROM bench_person")
            cursor.fetchone()
    except DatabaseError:
        return JsonResponse(
            {"serves": False, "problem": "The database does not answer."}, status=503
        )
    return JsonResponse({"serves": True, "database": connection.vendor, "assets": assets.version()})


def service_worker(_request: HttpRequest) -> HttpResponse:
    """The service worker at the root, since it may only answer for pages below its own place."""
    names = ",".join(f'"{assets.static_url()}{name}"' for name in assets.files())
    known = f'const VERSION = "{assets.version()}";\nconst FILES = [{names}];\n'
    text = known + assets.text_of("bench/service-worker.js")
    return HttpResponse(
        text, content_type="text/javascript; charset=utf-8", headers={"Cache-Control": "no-cache"}
    )


ROUTES = (
    Route("language/", set_language, "language", "anybody", "anybody"),
    Route("healthz", healthz, "healthz", "anybody", "lead"),
    Route("service-worker.js", service_worker, "service_worker", "anybody", "lead"),
)
