"""Where things lie, in numbers that the page draws from: outlines and places per side, in millimetres.

The page has one drawing for each side and lights what is at work; a new picture for each step would be many
times as large and could not be kept for work without the network.
"""

from __future__ import annotations

from lastscrew.bench.workshop.drawing import sides_of
from lastscrew.device.model import Device
from lastscrew.fasteners.tightening import tightening_of
from lastscrew.paper.heads import head_radius_mm, recess_of
from lastscrew.paper.strata import strata_of
from lastscrew.paper.views import Lit, side_of_lit, views_of
from lastscrew.plan.wording import joint_name, part_name, side_name

Json = dict[str, object]


def drawing_of(device: Device) -> Json:
    """All sides.

    Returns:
        ``sides``: for each side its id and name, ``low`` and ``high`` corner, ``parts`` (ids) and ``joints``
        (ids); ``parts``: id to name, outline, what lies over it, whether it is fixed; ``joints``: id to name,
        kind, places, head radius, recess, the side where it is seen, and the order of the screws where
        one matters (``loosen`` and ``tighten``: joint and number of the place, from 0); ``layers``: side to
        the parts of its layers from outside inwards, to choose the depot's own photo by. y counts upwards.
    """
    over = strata_of(device).over
    views = [view for view in views_of(device) if view.parts or view.joints]
    drawn = {part for view in views for part in view.parts}
    return {
        "sides": [
            {
                "side": view.side,
                "name": side_name(view.side),
                "low": view.low,
                "high": view.high,
                "frame": view.frame,
                "parts": view.parts,
                "joints": view.joints,
            }
            for view in views
        ],
        "parts": {
            part: {
                "name": part_name(device, part),
                "outline": device.parts[part].outline_mm,
                "over": over.get(part, ()),
                "fixed": device.parts[part].fixed,
            }
            for part in sorted(drawn)
        },
        "joints": {joint: _joint(device, joint) for joint in device.joints},
        "layers": {each.side: each.layers for each in sides_of(device)},
    }


def _joint(device: Device, joint_id: str) -> Json:
    joint = device.joints[joint_id]
    found: Json = {
        "name": joint_name(device, joint_id),
        "kind": joint.kind,
        "joins": joint.joins,
        "places": joint.positions_mm,
        "radius": head_radius_mm(device, joint),
        "recess": recess_of(device, joint),
        "side": side_of_lit(device, Lit(joint_id)),
    }
    tightening = tightening_of(device, joint_id)
    if tightening is not None:
        found["loosen"] = [(place.joint, place.number) for place in tightening.loosening]
        found["tighten"] = [(place.joint, place.number) for place in tightening.order]
    return found
