"""Small invented machines, each with what a test needs to be seen."""

from __future__ import annotations

from lastscrew.device.model import Device
from lastscrew.device.reading import read_device

BOX = """\
format: 1
device: {name: Box, revision: "2"}
sides: [bottom, top]
turn_s: 6
tools:
  driver: {name: cross-recess screwdriver, fits: [PH1], swap_s: 4}
  pick: {name: plastic opening pick, swap_s: 3}
  press: {name: hand press, swap_s: 9}
fasteners:
  m2x5: {thread: M2, length_mm: 5, drive: PH1, head: pan, price: 0.10}
  m2x3: {thread: M2, length_mm: 3, drive: PH1, head: pan}
supplies:
  compound: {name: thermal compound, unit: g, price: 1.5}
  alcohol: {name: isopropyl alcohol, unit: ml}
hazards:
  pack: {signal: warning, text: "Lithium pack: do not bend, pierce or pry under it."}
  edge: {signal: caution, text: "Sharp edge."}
functions:
  typing: {name: Keyboard, check: Type every key once, check_s: 60}
  boots: {name: Starts, check: Starts and shows the start screen, check_s: 90}
parts:
  chassis: {name: Chassis, fixed: true}
  cover: {name: Bottom cover, order_code: BX-1}
  pack: {name: Battery pack, energy: true, hazards: [pack], price: 40, loses: [clock]}
  board: {name: Main board, functions: [boots], loses: [keys], price: 200}
  sink: {name: Heat sink}
  plate: {name: Sink plate}
  keys: {name: Keyboard, functions: [typing], price: 30}
spares:
  keys_set: {name: Keyboard with its tape, contains: [keys], price: 35, includes: [m2x3]}
  board_set: {name: Board with compound, contains: [board], price: 220, includes: [compound]}
joints:
  cover_screws:
    {kind: screw, joins: [cover, chassis], fastener: m2x5, count: 9, tool: driver, hazards: [edge],
     open_s: 40, close_s: 60}
  cover_clips:
    {kind: clip, joins: [cover, chassis], count: 12, tool: pick, close_tool: hand,
     after: [cover_screws], open_s: 15, close_s: 9}
  pack_plug:
    {kind: plug, joins: [pack, board], under: [cover], isolates: true, open_s: 5, close_s: 6}
  pack_screws:
    {kind: screw, joins: [pack, chassis], fastener: m2x5, count: 4, under: [cover], tool: driver,
     open_s: 20, close_s: 30}
  sink_screws:
    {kind: screw, joins: [sink, board], fastener: m2x5, count: 4, captive: true, under: [cover], tool: driver,
     renew: {compound: 0.3}, powered: true, open_s: 20, close_s: 30}
  plate_clips: {kind: clip, joins: [plate, sink], under: [cover], open_s: 3, close_s: 3}
  board_screws:
    {kind: screw, joins: [board, chassis], fastener: m2x5, count: 6, under: [cover, sink], tool: driver, powered: true,
     open_s: 30, close_s: 50}
  keys_clips: {kind: clip, joins: [keys, chassis], count: 8, side: top, tool: pick, open_s: 10, close_s: 10}
  keys_screw:
    {kind: screw, joins: [keys, chassis], fastener: m2x3, count: 1, side: top, tool: driver, reuse: single_use,
     after: [keys_clips], open_s: 4, close_s: 6}
  keys_ribbon:
    kind: ribbon
    joins: [keys, board]
    access:
      - {side: bottom, under: [cover, pack], open_s: 12, close_s: 14}
      - {side: top, under: [keys], open_s: 14, close_s: 20}
acts:
  wrist: {text: Put on the wrist strap., at: start, seconds: 10}
  discharge: {text: Hold the power button for ten seconds., at: after_open, joint: pack_plug, seconds: 12, hold: true}
  clean: {text: Clean the new board., at: turning, seconds: 20.125, when_replaced: [board], renew: {alcohol: 2.5}}
  wipe: {text: Wipe the cover., at: end, seconds: 5, wait_s: 30}
"""

LADDER = """\
format: 1
device: {name: Ladder}
tools:
  driver: {name: cross-recess screwdriver}
fasteners:
  m3x8: {thread: M3, length_mm: 8, drive: PH2, head: pan}
parts:
  frame: {name: Frame, fixed: true}
  tray: {name: Tray}
  lid: {name: Lid}
  motor: {name: Motor}
  cell: {name: Clock cell}
joints:
  lid_screws: {kind: screw, joins: [lid, tray], fastener: m3x8, count: unknown, tool: driver}
  tray_screws: {kind: screw, joins: [tray, frame], fastener: m3x8, count: 4, tool: driver}
  motor_screws:
    {kind: screw, joins: [motor, frame], fastener: m3x8, count: 2, tool: driver, under: [lid], hold_by: second_person}
  cell_plug: {kind: plug, joins: [cell, frame], powered: shutdown, under: [lid]}
  cell_seat:
    {kind: seat, joins: [cell, frame], under: [lid], reuse: inspect, hold: Look at the cell., after: [cell_plug]}
"""


def box() -> Device:
    """A notebook-like box: pack, board with a sink that carries a plate, keyboard with two ways to its ribbon."""
    return machine(BOX)


def ladder() -> Device:
    """No isolation; a lid on a tray on the frame: loosening either rung uncovers the motor."""
    return machine(LADDER)


def machine(text: str) -> Device:
    """The device of a text without errors."""
    result = read_device(text, "test")
    assert result.device is not None, result.problems
    return result.device
