"""Charts of a device's history, in the look of everything else: ink on paper, a range for each figure."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from lastscrew.bench.depot.device_story import StepTime, Trouble
from lastscrew.paper import svg
from lastscrew.paper.svg import Element
from lastscrew.plan.wording import clock

WIDTH = 124.0
NAMES, COUNTS = 46.0, 13.0
ROW, HEAD, FOOT = 7.2, 6.0, 4.0
TEXT, SMALL = 3.4, 2.9
MOST_ROWS = 16
_TICKS_MS = tuple(
    seconds * 1000
    for seconds in (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 86400)
)


def draw_step_times(steps: Sequence[StepTime]) -> Element:
    """Measured beside planned: a line for eight of ten times, a dot for the middle one, a stroke for the plan."""
    shown = list(steps[:MOST_ROWS])
    most = max([s.high_ms for s in shown] + [s.planned_ms or 0 for s in shown], default=1)
    root, field = _frame(
        len(shown),
        _("Steps: measured and planned"),
        _(
            "For each step the range of eight of ten times, the middle one as a dot, the planned time as a stroke."
        ),
        "steps",
    )
    tick = _tick(most)
    scale = field / (tick * -(-most // tick))
    for ms in range(0, int(field / scale) + 1, tick):
        _grid(root, NAMES + ms * scale, len(shown), clock(ms))
    for number, step in enumerate(shown):
        y = HEAD + ROW * (number + 0.5)
        limb = _("open") if step.limb == "in" else _("close")
        row = svg.group(root, _step_words(step, limb))
        svg.text(row, 0, y + 1.2, f"{step.name}, {limb}", TEXT, width=NAMES - 3)
        svg.line(row, NAMES + step.low_ms * scale, y, NAMES + step.high_ms * scale, y, "limb")
        if step.planned_ms is not None:
            x = NAMES + step.planned_ms * scale
            svg.line(row, x, y - 2.6, x, y + 2.6, "li bold")
        svg.circle(row, NAMES + step.median_ms * scale, y, 1.5, "ring")
        svg.text(row, WIDTH, y + 1.2, f"{step.count} ×", SMALL, class_="g", anchor="end")
    return root


def _step_words(step: StepTime, limb: str) -> str:
    planned = clock(step.planned_ms) if step.planned_ms is not None else "–"
    return _("%(name)s, %(limb)s: %(low)s to %(high)s, middle %(middle)s, planned %(planned)s, %(count)d times") % {
        "name": step.name, "limb": limb, "low": clock(step.low_ms), "high": clock(step.high_ms),
        "middle": clock(step.median_ms), "planned": planned, "count": step.count,
    }  # fmt: skip


def draw_troubles(found: Sequence[Trouble]) -> Element:
    """Share of openings that had trouble: a dot for what was seen, a line for what it may truly be (95 %)."""
    shown = list(found[:MOST_ROWS])
    root, field = _frame(
        len(shown),
        _("Joints that go wrong"),
        _("For each joint the share of its openings that had trouble, with the 95 % interval."),
        "troubles",
    )
    most = max([t.high for t in shown], default=1.0)
    top = next((top for top in (0.1, 0.2, 0.5) if most <= top), 1.0)
    for step in range(5):
        share = top * step / 4
        _grid(root, NAMES + field * step / 4, len(shown), f"{share * 100:.3g} %")
    for number, trouble in enumerate(shown):
        y = HEAD + ROW * (number + 0.5)
        words = _("%(name)s: trouble in %(jobs)d of %(openings)d openings") % {
            "name": trouble.name, "jobs": trouble.jobs, "openings": trouble.openings,
        }  # fmt: skip
        row = svg.group(root, words)
        svg.text(row, 0, y + 1.2, trouble.name, TEXT, width=NAMES - 3)
        left, right = NAMES + field * trouble.low / top, NAMES + field * trouble.high / top
        svg.line(row, left, y, right, y, "limb")
        svg.circle(row, NAMES + field * trouble.jobs / trouble.openings / top, y, 1.5, "ring")
        count = f"{trouble.jobs} / {trouble.openings}"
        svg.text(row, WIDTH, y + 1.2, count, SMALL, class_="g", anchor="end")
    return root


def _frame(rows: int, title: str, desc: str, prefix: str) -> tuple[Element, float]:
    height = HEAD + ROW * rows + FOOT
    root = svg.drawing(WIDTH, height, title, desc, prefix=prefix, pad_mm=1.5)
    return root, WIDTH - NAMES - COUNTS


def _grid(root: Element, x: float, rows: int, words: str) -> None:
    svg.line(root, x, HEAD, x, HEAD + ROW * rows, "lp")
    svg.text(root, x, HEAD - 1.6, words, SMALL, class_="g", anchor="middle")


def _tick(most_ms: int) -> int:
    """Time between strokes of the scale: a round one that needs at most five of them."""
    return next((tick for tick in _TICKS_MS if most_ms <= 5 * tick), _TICKS_MS[-1])
