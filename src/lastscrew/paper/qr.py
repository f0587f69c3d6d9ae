"""The job as a square code: device, revision and request, so that a reader can plan it again."""

from __future__ import annotations

import shlex

import segno
from segno.encoder import DataOverflowError

from lastscrew.device.model import Device
from lastscrew.paper import svg
from lastscrew.paper.svg import Element
from lastscrew.plan.model import DEFAULT_RATE_PER_H, Request
from lastscrew.saying import say

QUIET_MODULES = 4
"""Blank border in modules (ISO/IEC 18004)."""

LEAST_MODULE_MM = 0.38
"""A module is printed no smaller, so that a laser printer at 300 dots per inch gives it four dots."""

LEAST_SIDE_MM = 22.0


def plan_words(request: Request) -> list[str]:
    """The request as the words of a plan command, without the file."""
    words = ["plan"]
    for option, values in (
        ("--replace", request.replace),
        ("--reach", request.reach),
        ("--open", request.opened),
        ("--not-fitted", request.not_fitted),
        ("--fitted", request.fitted),
        ("--without", request.without),
    ):
        for value in values:
            words += [option, value]
    if request.side is not None:
        words += ["--side", request.side]
    if request.objective != "time":
        words += ["--objective", request.objective]
    if request.rate_per_h != DEFAULT_RATE_PER_H:
        words += ["--rate", f"{request.rate_per_h:g}"]
    if request.pace != 1.0:
        words += ["--pace", f"{request.pace:g}"]
    return words


def job_text(device: Device, request: Request) -> str:
    """What the code says: device id, revision hash and request, a line each."""
    return f"{device.id}\n{device.revision_hash}\n{shlex.join(plan_words(request))}"


def draw_code(text: str, prefix: str = "qr") -> tuple[Element, str]:
    """The code of a text.

    Returns:
        An ``svg`` element in millimetres, and the text that it holds: where the request is too long
        for any code, only the device and its revision.
    """
    try:
        code = segno.make(text, error="m", micro=False, boost_error=False)
    except DataOverflowError:
        text = "\n".join(text.split("\n")[:2])
        code = segno.make(text, error="m", micro=False, boost_error=False)
    matrix = [list(row) for row in code.matrix]
    modules = len(matrix) + 2 * QUIET_MODULES
    module = max(LEAST_MODULE_MM, LEAST_SIDE_MM / modules)
    side = modules * module
    root = svg.drawing(
        side, side, say("Code of the job"), text, prefix=prefix, dark=False, true_scale=True
    )
    svg.rect(root, 0, 0, side, side, "paper")
    svg.add(root, "path", class_="ink", d=_path(matrix, module))
    return root, text


def _path(matrix: list[list[int]], module: float) -> str:
    """Runs of dark modules as rectangles, row by row."""
    pieces: list[str] = []
    for row, bits in enumerate(matrix):
        column = 0
        while column < len(bits):
            run = 0
            while column + run < len(bits) and bits[column + run]:
                run += 1
            if run:
                x, y = (column + QUIET_MODULES) * module, (row + QUIET_MODULES) * module
                width, height = run * module, module
                pieces.append(f"M{x:.3f} {y:.3f}h{width:.3f}v{height:.3f}h-{width:.3f}z")
            column += max(run, 1)
    return "".join(pieces)
