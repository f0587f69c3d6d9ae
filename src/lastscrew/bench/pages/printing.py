"""Paper as an answer: the file, or the page that says that it is being set."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from lastscrew.bench.serving.press import PRESS
from lastscrew.paper.pdf import NO_PICTURES, Pictures
from lastscrew.problems import InputError


def paper(
    request: HttpRequest, html: str, name: str, back: str, pictures: Pictures = NO_PICTURES
) -> HttpResponse:
    """The PDF of a page; 202 and a page that looks again while it is being set; 503 where none can be made.

    Args:
        request: The request.
        html: The page to print.
        name: Name of the file.
        back: Address that leads back.
        pictures: Pictures that come along.
    """
    try:
        printed = PRESS.soon(html, pictures)
    except InputError as error:
        return render(request, "bench/no_pdf.html", {"problems": error.problems}, status=503)
    if printed is None:
        return render(request, "bench/setting.html", {"back": back}, status=202)
    return HttpResponse(
        printed.data,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )
