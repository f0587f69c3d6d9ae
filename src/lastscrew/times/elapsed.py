"""Waiting: heat, cure, drying. Time that passes with no hands on the machine."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from lastscrew.device.model import Device


@dataclass(frozen=True, slots=True)
class Waits:
    """Milliseconds of waiting on the way in and on the way out, with who asks for it.

    Attributes:
        in_ms, out_ms: Sums. They come from the device file only: no table knows a glue.
        because: (joint or act id, ms) of each wait, in the order of the device file.
    """

    in_ms: int
    out_ms: int
    because: tuple[tuple[str, int], ...]

    @property
    def total_ms(self) -> int:
        """Both."""
        return self.in_ms + self.out_ms


def waits_of(
    device: Device,
    opened: Collection[str],
    closed: Collection[str],
    acts_in: Collection[str] = (),
    acts_out: Collection[str] = (),
) -> Waits:
    """Waiting for these openings, closings and acts, one after the other.

    Elapsed time is hands-on time plus this. It is the most it can take: two waits at a time, or
    other work done in the meantime, make it shorter.
    """
    joints = device.joints.values()
    acts = device.acts.values()
    way_in = [(j.id, j.wait_open_ms) for j in joints if j.id in opened and j.wait_open_ms]
    way_in += [(a.id, a.wait_ms) for a in acts if a.id in acts_in and a.wait_ms]
    way_out = [(j.id, j.wait_close_ms) for j in joints if j.id in closed and j.wait_close_ms]
    way_out += [(a.id, a.wait_ms) for a in acts if a.id in acts_out and a.wait_ms]
    return Waits(sum(ms for _, ms in way_in), sum(ms for _, ms in way_out), (*way_in, *way_out))
