"""A small invented radio with three faults: quick to search, with a check of every shape."""

from __future__ import annotations

from functools import cache

from lastscrew.bench.store.revisions import publish
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device

RADIO = """format: 1
device: {name: Radio}
tools: {driver: {fits: [PH1]}}
fasteners: {m3x8: {thread: M3, length_mm: 8, drive: PH1}}
hazards: {mains: {signal: danger, text: Mains inside.}}
functions:
  sound: {name: Sound, check: hum, check_s: 10}
  light: {name: Light, check: Look at the lamp, check_s: 5}
  volts: {name: Voltage, check: Measure it, check_s: 5, measure: {unit: V, low: 5}}
  all: {name: Everything, check: whole, check_s: 60}
  case_looks: {name: Looks, check: Look at it, check_s: 5}
parts:
  case: {fixed: true}
  back: {}
  coil: {order_code: R-1, price: 5}
  lamp: {order_code: R-2, price: 1}
  supply: {name: Power supply, order_code: R-3, price: 9, hazards: [mains]}
spares: {coil_set: {contains: [coil]}}
joints:
  back_screws: {kind: screw, joins: [back, case], fastener: m3x8, count: 4, tool: driver}
  coil_screws: {kind: screw, joins: [coil, case], fastener: m3x8, count: 2, tool: driver, under: [back]}
  coil_seat: {kind: seat, joins: [coil, case], under: [back], after: [coil_screws]}
  lamp_clip: {kind: clip, joins: [lamp, case]}
  supply_clips: {kind: clip, joins: [supply, case], under: [back]}
symptoms:
  silent: {name: Silent, words: [no sound, silent]}
  dark: {name: Lamp stays dark, words: [dark]}
checks:
  hum: {name: Hum, check: Listen, check_s: 10, outcomes: [clear, hums]}
  rail: {name: Rail, check: Measure the rail, check_s: 20, measure: {unit: V, low: 5}, open: [back_screws]}
  whole: {name: All of it, check: Try all, check_s: 60, final: true}
faults:
  coil_bad: {name: Coil is bad, part: coil, prior: 5, symptoms: {silent: often}, checks: {hum: often, volts: seldom}}
  lamp_bad: {name: Lamp is bad, part: lamp, prior: 3, symptoms: {dark: always}, checks: {light: often}}
  supply_bad:
    name: Supply is bad
    part: supply
    prior: 4
    symptoms: {silent: usually, dark: usually}
    checks: {rail: {low: usually}, volts: often}
"""


@cache
def radio() -> Device:
    """The radio."""
    return load_device(RADIO, "radio")


def publish_radio() -> Device:
    """Have it published."""
    publish(radio(), RADIO, by="Ada")
    return radio()
