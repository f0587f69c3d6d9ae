"""What a job takes out of stock and brings into it, event by event.

What lies in stock goes by its order code (``code:AL-210``), where the device file gives one; a
fastener or supply without one by its id (``fastener:m2x5``, ``supply:compound``). Loose washers that are no
listed fastener are not kept in stock.

- ``renewed`` takes its amount; ``closed`` and ``power_on`` take the new pieces that go in.
- ``exchanged`` takes one: of the order code that the event names, else of the spare or part, else of each
  of the parts that were joined.
- ``part_line``: ``received`` brings in its count. From there ``dead_on_arrival`` takes it out again (not after
  ``fitted``: then the exchange has taken it), and so does a step back to ``ordered`` or ``to_order``.
- What comes along with an exchanged spare is not taken from stock from then on in that job.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from lastscrew.device.fitting import device_parts_in
from lastscrew.device.model import Device
from lastscrew.fasteners.books import Books
from lastscrew.fasteners.pieces import Kind
from lastscrew.run import events as e
from lastscrew.run.state import JobState

MAX_CODE_CHARS = 80

Move = tuple[str, float]
"""What, and how much more (or, negative, less) of it there is."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line of an order as its last event leaves it.

    Attributes:
        line: Its key.
        state, count, order_code, what: As the event says; the order code else as the device file has it.
        code: What is moved in stock, empty where that is not known.
        has_come: Its count came into stock and, as far as this line says, did not go back.
        at_ms: When it changed last.
    """

    line: str
    state: str
    count: int
    order_code: str
    what: str
    code: str
    has_come: bool
    at_ms: int


# --- what things are called in stock --------------------------------------------------------------


def stock_code(order_code: str) -> str:
    """How something with an order code is called."""
    return f"code:{order_code[:MAX_CODE_CHARS]}"


def fastener_code(device: Device, fastener: str) -> str:
    """How a kind of fastener is called."""
    known = device.fasteners.get(fastener)
    if known is not None and known.order_code:
        return stock_code(known.order_code)
    return f"fastener:{fastener[:MAX_CODE_CHARS]}"


def supply_code(device: Device, supply: str) -> str:
    """How a supply is called."""
    known = device.supplies.get(supply)
    if known is not None and known.order_code:
        return stock_code(known.order_code)
    return f"supply:{supply[:MAX_CODE_CHARS]}"


def piece_codes(device: Device, piece: str) -> tuple[str, ...]:
    """How a part, a spare or several joined by ``+`` are called; nothing where there is no order code."""
    found: list[str] = []
    for name in piece.split("+"):
        entry = device.spares.get(name) or device.parts.get(name)
        if entry is not None and entry.order_code:
            found.append(stock_code(entry.order_code))
    if found or "+" in piece:
        return tuple(dict.fromkeys(found))
    inside = device_parts_in(device, piece) if piece in device.spares else ()
    codes = [device.parts[part].order_code for part in inside if part in device.parts]
    return tuple(dict.fromkeys(stock_code(code) for code in codes if code))


# --- lines of an order ----------------------------------------------------------------------------


def line_after(device: Device, before: Line | None, what: e.PartLine, at_ms: int) -> Line:
    """A line after one more event about it; what the event leaves out stays as it was."""
    order_code = what.order_code or (before.order_code if before else "")
    name = what.part or what.supply or what.piece or (before.what if before else "")
    code = _code_of_line(device, what, order_code) or (before.code if before else "")
    if not order_code and code.startswith("code:"):
        order_code = code.removeprefix("code:")
    came = before is not None and before.has_come
    if what.state == "received":
        came = True
    elif what.state in {"dead_on_arrival", "ordered", "to_order"}:
        came = False
    return Line(what.line, what.state, what.count, order_code, name, code, came, at_ms)


def _code_of_line(device: Device, what: e.PartLine, order_code: str) -> str:
    if order_code:
        return stock_code(order_code)
    if what.part is not None:
        return next(iter(piece_codes(device, what.part)), "")
    if what.supply is not None:
        return supply_code(device, what.supply)
    if what.piece is not None and ":" not in what.piece:
        return fastener_code(device, what.piece)
    return ""


def _moves_of_line(before: Line | None, after: Line) -> list[Move]:
    if not after.code:
        return []
    came = before is not None and before.has_come
    lies_there = before is not None and before.state == "received"
    if after.has_come and not came:
        return [(after.code, after.count)]
    if before is not None and lies_there and not after.has_come:
        return [(before.code, -before.count)]
    if before is not None and lies_there and after.state == "received":
        return [(before.code, -before.count), (after.code, after.count)]
    return []


# --- a job ----------------------------------------------------------------------------------------


def moves_at(
    device: Device, before: JobState, event: e.Event, lines: Mapping[str, Line]
) -> tuple[Move, ...]:
    """What one event (in force) moves.

    Args:
        device: The device, of the revision that the job keeps.
        before: The state before the event.
        event: The event.
        lines: Lines of the order before the event.
    """
    what = event.what
    if isinstance(what, e.Closed | e.PowerOn):
        books = Books(device, counts=dict(before.counts), open=list(before.open))
        books.take(event)
        new = {kind: totals.new for kind, totals in books.totals.items() if totals.new}
        return _gathered(_new_pieces(device, new, _included(device, before.exchanged)))
    if isinstance(what, e.PartLine):
        line = lines.get(what.line)
        return _gathered(_moves_of_line(line, line_after(device, line, what, 0)))
    return _gathered(_plain_moves(device, what, _included(device, before.exchanged)))


def moves_of_job(device: Device, events: Sequence[e.Event]) -> dict[str, tuple[Move, ...]]:
    """What each event of a job moves, by its id; events that move nothing are left out.

    Args:
        device: The device, of the revision that the job keeps.
        events: The events in force, in order.
    """
    books = Books(device)
    exchanged: list[e.Exchanged] = []
    lines: dict[str, Line] = {}
    found: dict[str, tuple[Move, ...]] = {}
    for event in events:
        what = event.what
        news = {kind: totals.new for kind, totals in books.totals.items()}
        books.take(event)
        moves: Iterable[Move] = ()
        if isinstance(what, e.Closed | e.PowerOn):
            new = {
                kind: totals.new - news.get(kind, 0)
                for kind, totals in books.totals.items()
                if totals.new != news.get(kind, 0)
            }
            moves = _new_pieces(device, new, _included(device, exchanged))
        elif isinstance(what, e.PartLine):
            before = lines.get(what.line)
            lines[what.line] = line_after(device, before, what, 0)
            moves = _moves_of_line(before, lines[what.line])
        else:
            moves = _plain_moves(device, what, _included(device, exchanged))
        if isinstance(what, e.Exchanged):
            exchanged.append(what)
        if gathered := _gathered(moves):
            found[event.id] = gathered
    return found


def _new_pieces(device: Device, new: Mapping[Kind, int], included: frozenset[str]) -> list[Move]:
    return [
        (fastener_code(device, kind.name), -count)
        for kind, count in new.items()
        if kind.sort == "fastener" and kind.name not in included
    ]


def _plain_moves(device: Device, what: e.Happening, included: frozenset[str]) -> list[Move]:
    if isinstance(what, e.Renewed) and what.supply not in included:
        return [(supply_code(device, what.supply), -what.amount)]
    if isinstance(what, e.Exchanged):
        if what.order_code:
            return [(stock_code(what.order_code), -1)]
        return [(code, -1) for code in piece_codes(device, what.part)]
    return []


def _included(device: Device, exchanged: Iterable[e.Exchanged]) -> frozenset[str]:
    """Fasteners and supplies that came along with what was exchanged so far."""
    names = [name for exchange in exchanged for name in exchange.part.split("+")]
    return frozenset(
        each for name in names if name in device.spares for each in device.spares[name].includes
    )


def _gathered(moves: Iterable[Move]) -> tuple[Move, ...]:
    """One move for each code, in order of the codes; what comes to nothing left out."""
    found: dict[str, float] = {}
    for code, change in moves:
        found[code] = rounded(found.get(code, 0) + change)
    return tuple((code, found[code]) for code in sorted(found) if found[code])


def rounded(amount: float) -> float:
    """An amount without the noise of binary fractions: millionths."""
    return round(float(amount), 6) + 0.0
