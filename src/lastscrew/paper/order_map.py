"""A small map of the screws of a joint with the order in which they are tightened."""

from __future__ import annotations

from lastscrew.device.model import Device, Point
from lastscrew.fasteners.tightening import Tightening
from lastscrew.paper import svg
from lastscrew.paper.heads import LEAST_RADIUS_MM, draw_head, head_radius_mm
from lastscrew.paper.svg import Element
from lastscrew.plan.wording import joint_name, listed
from lastscrew.saying import say

WIDEST_MM, TALLEST_MM = 62.0, 28.0
BORDER_MM = 4.0
NUMBER_SIZE = 2.4


def draw_order_map(
    device: Device, tightening: Tightening, *, prefix: str, dark: bool = False
) -> Element | None:
    """Draw where the screws lie and number them as they are tightened.

    Args:
        device: The device.
        tightening: Joints and order.
        prefix: Makes ids unique on a page.
        dark: Follow a dark screen.

    Returns:
        An ``svg`` element in millimetres; None where the device file gives no places.
    """
    places = [
        (device.joints[place.joint], device.joints[place.joint].positions_mm[place.number])
        for place in tightening.order
        if place.number < len(device.joints[place.joint].positions_mm)
    ]
    if len(places) < 2:
        return None
    outline = _outline(device, tightening, [point for _, point in places])
    points = [point for _, point in places] + list(outline)
    low = (min(x for x, _ in points), min(y for _, y in points))
    high = (max(x for x, _ in points), max(y for _, y in points))
    width, height = max(high[0] - low[0], 1.0), max(high[1] - low[1], 1.0)
    scale = min((WIDEST_MM - 2 * BORDER_MM) / width, (TALLEST_MM - 2 * BORDER_MM) / height, 2.0)
    size = (width * scale + 2 * BORDER_MM, height * scale + 2 * BORDER_MM)

    def at(point: Point) -> Point:
        return BORDER_MM + (point[0] - low[0]) * scale, BORDER_MM + (high[1] - point[1]) * scale

    names = listed([joint_name(device, joint) for joint in tightening.joints])
    root = svg.drawing(
        *size, say("Order of {joints}", joints=names), say("Numbers are the order of tightening."),
        prefix=prefix, dark=dark, true_scale=True,
    )  # fmt: skip
    if outline:
        svg.polygon(root, [at(point) for point in outline], "lg")
    for number, (joint, point) in enumerate(places, 1):
        x, y = at(point)
        radius = min(2.0, max(LEAST_RADIUS_MM, head_radius_mm(device, joint) * scale))
        draw_head(root, device, joint, x, y, radius, "plain")
        _number(root, str(number), x, y, radius, size[0])
    return root


def _number(root: Element, number: str, x: float, y: float, radius: float, width: float) -> None:
    """Beside the head, on the side that has room."""
    right = x + radius + 0.4 + svg.text_width(number, NUMBER_SIZE, bold=True) <= width
    anchor = "start" if right else "end"
    x += (radius + 0.4) if right else -(radius + 0.4)
    svg.text(root, x, y + NUMBER_SIZE * 0.36, number, NUMBER_SIZE, class_="t b", anchor=anchor)


def _outline(device: Device, tightening: Tightening, points: list[Point]) -> tuple[Point, ...]:
    """The outline of the smallest part that the joints hold and that has all the screws in it."""
    held = {part for joint in tightening.joints for part in device.joints[joint].joins}
    found: list[tuple[float, str]] = []
    for part in sorted(held):
        outline = device.parts[part].outline_mm
        if not outline or device.parts[part].fixed:
            continue
        xs, ys = [x for x, _ in outline], [y for _, y in outline]
        inside = all(
            min(xs) - 2 <= x <= max(xs) + 2 and min(ys) - 2 <= y <= max(ys) + 2 for x, y in points
        )
        if inside:
            found.append(((max(xs) - min(xs)) * (max(ys) - min(ys)), part))
    return device.parts[min(found)[1]].outline_mm if found else ()
