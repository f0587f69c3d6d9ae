"""The drawing of a device as the map of its page: parts are links, outer layers come off, a photo lies below."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from lastscrew.bench.workshop.overlay import Underlay, fixed_by
from lastscrew.device.model import Device
from lastscrew.paper import svg
from lastscrew.paper.sides import draw_sides
from lastscrew.paper.strata import strata_of
from lastscrew.paper.svg import Element
from lastscrew.paper.views import View, views_of

FIELD_TOP = 20.0
"""Where the field of the first side begins on a drawing of :func:`draw_sides`: its title and its heading."""


@dataclass(frozen=True, slots=True)
class MapSide:
    """One side that can be shown, with its layers from outside inwards.

    Attributes:
        side: Its id.
        layers: For each layer the parts that lie in it and have an outline.
    """

    side: str
    layers: tuple[tuple[str, ...], ...]


def sides_of(device: Device) -> tuple[MapSide, ...]:
    """Sides of which something can be drawn, in the order of the device file."""
    strata = strata_of(device)
    found = []
    for view in views_of(device):
        if view.parts or view.joints:
            layers = tuple(
                tuple(part for part in stratum.parts if device.parts[part].outline_mm)
                for stratum in strata.layers.get(view.side, ())
            )
            found.append(MapSide(view.side, tuple(layer for layer in layers if layer)))
    return tuple(found)


def away_at(device: Device, side: str, layer: int) -> frozenset[str]:
    """Parts that are thought away when a layer (0: the outside) of a side is looked at."""
    shown = next((one for one in sides_of(device) if one.side == side), None)
    layers = shown.layers if shown is not None else ()
    return frozenset(part for parts in layers[: max(0, layer)] for part in parts)


def draw_map(
    device: Device,
    side: str,
    *,
    layer: int = 0,
    chosen: Collection[str] = (),
    link: Callable[[str], str] | None = None,
    underlay: Underlay | None = None,
) -> Element:
    """One side of a device as a map.

    Args:
        device: The device, whole or as fitted.
        side: The side.
        layer: How many layers are thought away.
        chosen: Parts to mark.
        link: Address that choosing (or dropping) a part leads to; None for a drawing without links.
        underlay: A photo to lay below.
    """
    away = away_at(device, side, layer)
    root = draw_sides(device, sides=(side,), away=away, prefix=f"map-{side}")
    if underlay is not None:
        view = next((view for view in views_of(device) if view.side == side), None)
        if view is not None:
            _lay_under(root, view, underlay)
    for parent in list(root.iter()):
        for index, child in enumerate(list(parent)):
            part = child.get("data-part")
            if part is not None and part != device.fixed_part:
                _make_choosable(parent, index, child, part, chosen=part in chosen, link=link)
    return root


def _make_choosable(
    parent: Element,
    index: int,
    group: Element,
    part: str,
    *,
    chosen: bool,
    link: Callable[[str], str] | None,
) -> None:
    """Put a part's group into a link. The list beside the drawing has the same for the keyboard."""
    if chosen:
        group.set("class", f"{group.get('class', '')} chosen")
    if link is None:
        return
    parent.remove(group)
    around = Element("a", {"href": link(part), "tabindex": "-1", "data-choose": part})
    around.append(group)
    parent.insert(index, around)


def _lay_under(root: Element, view: View, underlay: Underlay) -> None:
    """Put the photo right above the paper, so that every line is drawn over it."""
    one, other = underlay.anchors
    placing = fixed_by(
        (
            (underlay.pixels(one), view.at(one.mm, FIELD_TOP)),
            (underlay.pixels(other), view.at(other.mm, FIELD_TOP)),
        )
    )
    paper = next(i for i, element in enumerate(root) if element.get("class") == "paper")
    image = svg.add(
        root,
        "image",
        href=underlay.address,
        width=float(underlay.width),
        height=float(underlay.height),
        class_="underlay",
        preserveAspectRatio="none",
    )
    image.set("transform", placing.matrix())
    root.remove(image)
    root.insert(paper + 1, image)


@dataclass(frozen=True, slots=True)
class MapPlace:
    """Where the machine's millimetres lie on a drawing.

    ``x = (mm_x - low_x) * scale`` and ``y = top + (high_y - mm_y) * scale``, in units of the drawing.
    """

    scale: float
    low_x: float
    high_y: float
    top: float = FIELD_TOP


def place_of(device: Device, side: str) -> MapPlace | None:
    """Where the millimetres of a side lie on its drawing, None where nothing is drawn."""
    view = next((view for view in views_of(device) if view.side == side), None)
    return None if view is None else MapPlace(view.scale, view.low[0], view.high[1])


def to_page(root: Element) -> str:
    """The drawing as text to set into a page; it scales with its column."""
    root.attrib.pop("width", None)
    root.attrib.pop("height", None)
    return svg.to_text(root).split("\n", 1)[1]
