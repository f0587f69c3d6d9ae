"""A small invented lantern with faults: every kind of check and mend once."""

from __future__ import annotations

from functools import cache

from lastscrew.device.model import Device
from lastscrew.device.reading import load_device

LANTERN = """\
format: 1
device: {name: Lantern, revision: A}
turn_s: 6
tools: {driver: {name: cross-recess driver, fits: [PH1], swap_s: 4}}
fasteners: {m3x8: {thread: M3, length_mm: 8, drive: PH1, torque_ncm: 40}}
hazards:
  pack: {signal: warning, text: "Lithium pack. Do not pierce it."}
  edge: {signal: caution, text: "Sharp edge inside."}
functions:
  light: {name: Light, check: Switch it on., check_s: 15}
parts:
  foot: {name: Foot, fixed: true}
  cover: {name: Cover, hazards: [edge]}
  pack: {name: Pack, energy: true, hazards: [pack], price: 12}
  board: {name: Board, functions: [light], price: 40}
  lamp: {name: Lamp, functions: [light], price: 9}
joints:
  cover_screws: {kind: screw, joins: [cover, foot], fastener: m3x8, count: 4, tool: driver, open_s: 40, close_s: 60}
  pack_plug: {kind: plug, joins: [pack, board], under: [cover], isolates: true, open_s: 4, close_s: 5}
  pack_seat: {kind: seat, joins: [pack, foot], under: [cover], open_s: 3, close_s: 3}
  lamp_plug: {kind: plug, joins: [lamp, board], under: [cover], open_s: 3, close_s: 4}
  lamp_clips: {kind: clip, joins: [lamp, foot], count: 2, under: [cover], open_s: 5, close_s: 5}
  board_screws: {kind: screw, joins: [board, foot], fastener: m3x8, count: 3, under: [cover], tool: driver,
                 open_s: 20, close_s: 30, powered: true}
symptoms:
  dark: {name: Stays dark, words: [no light, does not light up]}
  dim: {name: Shines dimly, words: [dim, weak light]}
  wet: {name: Was wet, words: [fell into water], event: liquid}
checks:
  works: {name: Everything works, check: Switch it on for a minute., check_s: 60, power: "on", final: true}
  charger: {name: On the charger, check: Plug in the charger. Switch on., check_s: 20, power: "on"}
  pack_voltage:
    name: Voltage of the pack
    check: Measure at the plug.
    check_s: 30
    open: [pack_plug]
    power: "off"
    measure: {unit: V, low: 3.4, high: 4.3}
    instrument: voltmeter
    hazards: [pack]
    harm: {chance: 0.01, price: 12, seconds: 100}
  board_light: {name: Light on the board, check: Look at the small light on the board., check_s: 10, power: "on",
                open: [cover_screws], may_be_open: [lamp_plug]}
  other_lamp: {name: Another lamp, check_s: 25, swap_test: lamp}
faults:
  pack_flat:
    name: Pack is worn out
    part: pack
    prior: 30
    symptoms: {dark: often, dim: often}
    checks: {charger: seldom, pack_voltage: {low: nearly_always}, board_light: often}
  plug_loose:
    name: Pack plug is loose
    joint: pack_plug
    prior: 8
    symptoms: {dark: always}
    checks: {charger: rarely, board_light: always}
  board_dead:
    name: Board is dead
    part: board
    prior: 12
    symptoms: {dark: always, wet: seldom}
    checks: {charger: always, board_light: usually}
    mends: [{do: clean, success: sometimes, seconds: 120, open: [board_screws], power: "off"}, {do: exchange}]
  lamp_dead:
    name: Lamp is dead
    part: lamp
    prior: 20
    symptoms: {dark: usually, dim: sometimes}
    checks: {charger: always}
"""


@cache
def lantern() -> Device:
    """The lantern as a device."""
    return load_device(LANTERN.encode())
