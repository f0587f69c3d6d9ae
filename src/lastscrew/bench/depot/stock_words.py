"""What a code in stock is called, from the device files in use; and what a form tells about stock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _

from lastscrew.bench.depot import events as d
from lastscrew.bench.depot.reading_forms import happening_of, one_line
from lastscrew.bench.depot.stocking import fastener_code, stock_code, supply_code
from lastscrew.device.model import Device, Part, Spare
from lastscrew.plan.wording import fastener_text
from lastscrew.problems import Problem
from lastscrew.run.events import Happening


def stock_names(devices: Iterable[Device]) -> dict[str, str]:
    """Code to name, of everything that the device files name and that may lie in stock."""
    found: dict[str, str] = {}
    for device in devices:
        entries: list[Part | Spare] = [*device.parts.values(), *device.spares.values()]
        for entry in entries:
            if entry.order_code:
                found.setdefault(stock_code(entry.order_code), f"{entry.name}, {device.name}")
        for fastener in device.fasteners.values():
            found.setdefault(fastener_code(device, fastener.id), fastener_text(fastener))
        for supply in device.supplies.values():
            unit = f" ({supply.unit})" if supply.unit else ""
            found.setdefault(supply_code(device, supply.id), f"{supply.name}{unit}")
    return found


def plain_code(code: str) -> str:
    """A code as it is printed on a bag: without what kind of code it is."""
    return code.partition(":")[2] or code


def read_stock(
    form: Mapping[str, str], names: Mapping[str, str]
) -> tuple[Happening | None, list[Problem]]:
    """What a form tells about stock: that it was counted, or that something came or went.

    Args:
        form: ``tell`` is ``counted`` or ``moved``; ``item`` a code or an order code; ``amount``, ``place``,
            ``reason``.
        names: Codes that are known.
    """
    problems: list[Problem] = []
    item = one_line(form.get("item", ""))
    if item and ":" not in item:
        item = next((code for code in names if plain_code(code) == item), stock_code(item))
    amount = _amount(form.get("amount", ""), problems)
    values: dict[str, object] = {"item": item}
    kind: type[Happening] = d.StockCounted
    if form.get("tell") == "moved":
        kind = d.StockMoved
        reason = form.get("reason", "")
        goes = reason in ("used", "lost") or form.get("direction") == "out"
        values |= {"change": -amount if goes else amount, "reason": reason}
        if not amount and not problems:
            problems.append(
                Problem(_("Nothing came or went."), _("Say how much."), "amount", code="nothing")
            )
    else:
        values |= {"count": amount, "place": one_line(form.get("place", ""))}
    what, wrong = happening_of(kind, values)
    problems += wrong
    return (None if problems else what), problems


def _amount(text: str, problems: list[Problem]) -> float:
    try:
        amount = float(one_line(text).replace(",", "."))
    except ValueError:
        amount = -1.0
    if not 0 <= amount <= 1_000_000:
        problems.append(
            Problem(
                _("“%(text)s” is no amount.") % {"text": text[:40]},
                _("Write a number from 0 on, such as 12 or 0.5."),
                "amount",
                code="no_amount",
            )
        )
        return 0.0
    return amount
