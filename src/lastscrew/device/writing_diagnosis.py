"""Faults, symptoms and checks in the shape of the file, defaults left out."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from lastscrew.device.diagnosis import BAD, GOOD, Check, Fault, Likelihood, Mend, Symptom
from lastscrew.device.model import Device
from lastscrew.device.names import name_from_id

Tree = dict[str, Any]


def seconds(ms: int) -> int | float:
    """Milliseconds as seconds with at most three decimals, exact when read again."""
    return ms // 1000 if ms % 1000 == 0 else float(Decimal(ms) / 1000)


def _number(value: float) -> int | float:
    return int(value) if value.is_integer() and abs(value) < 1e15 else value


def _given(values: Mapping[str, Any]) -> Tree:
    """Without what says nothing; numbers and probabilities as they are written."""
    tree: Tree = {}
    for key, value in values.items():
        if value is None or value is False or value in ("", (), {}, []):
            continue
        if isinstance(value, tuple):
            tree[key] = list(value)
        elif isinstance(value, float):
            tree[key] = _number(value)
        elif isinstance(value, Likelihood):
            tree[key] = value.word or _number(value.value)
        elif isinstance(value, Mapping):
            tree[key] = _given(value)
        else:
            tree[key] = value
    return tree


def _named(entry: Symptom | Check | Fault) -> Tree:
    return {} if entry.name == name_from_id(entry.id) else {"name": entry.name}


def symptom_tree(symptom: Symptom, _device: Device) -> Tree:
    """A symptom."""
    keys = ("words", "leak", "event", "was", "sources")
    return _named(symptom) | _given({key: getattr(symptom, key) for key in keys})


def check_tree(check: Check, _device: Device) -> Tree:
    """A check."""
    tree = _named(check) | _given({"check": check.check})
    if check.check_ms:
        tree["check_s"] = seconds(check.check_ms)
    usual: tuple[str, ...] = (GOOD, BAD)
    if check.limits is not None:
        limits = check.limits
        tree["measure"] = _given({"unit": limits.unit, "low": limits.low, "high": limits.high})
        usual = limits.outcomes
    if check.outcomes != usual:
        tree["outcomes"] = list(check.outcomes)
    power = None if check.swap_test is not None and check.power == "on" else check.power
    tree |= _given({"open": check.open, "closed": check.closed, "power": power})
    keys = ("may_be_open", "tool", "instrument", "swap_test")
    tree |= _given({key: getattr(check, key) for key in keys})
    if check.harm is not None:
        tree["harm"] = {"chance": _number(check.harm.chance)} | _given(
            {"price": check.harm.price or None}
        )
        if check.harm.ms:
            tree["harm"]["seconds"] = seconds(check.harm.ms)
    tree |= _leak(check)
    keys = ("final", "hazards", "was", "sources")
    return tree | _given({key: getattr(check, key) for key in keys})


def _leak(check: Check) -> Tree:
    """One chance where it is the same for all outcomes but the first."""
    if not check.leak:
        return {}
    values = list(check.leak.values())
    if tuple(check.leak) == check.outcomes[1:] and len(set(values)) == 1:
        return _given({"leak": values[0]})
    return {"leak": _given(check.leak)}


def fault_tree(fault: Fault, _device: Device) -> Tree:
    """A fault."""
    tree = _named(fault) | _given({"part": fault.part, "joint": fault.joint})
    if fault.prior_given:
        tree["prior"] = fault.prior_word or _number(fault.prior)
    tree |= _given({"symptoms": fault.symptoms})
    if fault.checks:
        tree["checks"] = {
            check: _given({"": chances[""]})[""] if "" in chances else _given(chances)
            for check, chances in fault.checks.items()
        }
    if fault.mends:
        tree["mends"] = [_mend(mend, fault) for mend in fault.mends]
    return tree | _given({"note": fault.note, "was": fault.was, "sources": fault.sources})


def _mend(mend: Mend, fault: Fault) -> Tree:
    tree: Tree = {"do": mend.do} | _given({"name": mend.name})
    if (mend.part, mend.joint) != (fault.part, fault.joint):
        tree |= _given({"part": mend.part, "joint": mend.joint})
    tree |= _given({"success": mend.success})
    if mend.ms is not None:
        tree["seconds"] = seconds(mend.ms)
    if mend.price is not None:
        tree["price"] = _number(mend.price)
    keys = ("text", "open", "closed", "power", "sources")
    return tree | _given({key: getattr(mend, key) for key in keys})
