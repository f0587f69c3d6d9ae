"""A planner with one rule broken: its source with one piece of text exchanged, loaded beside the real one."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec
from importlib.util import find_spec, spec_from_loader
from pathlib import Path
from types import ModuleType
from typing import Protocol

from lastscrew.device.model import Device
from lastscrew.plan.model import Plan, Request, StopRule


class Planner(Protocol):
    """What ``lastscrew.plan.planner.plan`` looks like."""

    def __call__(self, device: Device, request: Request, stop: StopRule | None = None) -> Plan: ...


RELOADED = ("lastscrew.plan", "lastscrew.device.fitting", "lastscrew.device.opening")
KEPT = ("lastscrew.plan", "lastscrew.plan.model")
"""The package itself and its values stay the real ones, so that judges can read the plans."""


class _Exchanged(MetaPathFinder, Loader):
    """Finds one module and runs it with some of its text exchanged."""

    def __init__(self, module: str, path: str, source: str) -> None:
        self._module, self._path, self._source = module, path, source

    def find_spec(
        self, fullname: str, path: object = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        return spec_from_loader(fullname, self) if fullname == self._module else None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self._source, self._path, "exec"), module.__dict__)


def broken_planner(module: str, old: str, new: str) -> Planner:
    """The planner with ``old`` exchanged for ``new`` in one module.

    Args:
        module: Module in ``lastscrew``, such as ``plan.compiled``.
        old: Text that occurs exactly once in its source.
        new: What stands there instead.
    """
    name = f"lastscrew.{module}"
    spec = find_spec(name)
    assert spec is not None
    assert spec.origin is not None
    source = Path(spec.origin).read_text(encoding="utf-8")
    assert source.count(old) == 1, (
        f"{module} has changed: {old!r} occurs {source.count(old)} times; say anew how to break this rule"
    )
    finder = _Exchanged(name, spec.origin, source.replace(old, new))
    with _fresh_modules():
        sys.meta_path.insert(0, finder)
        try:
            planner: Planner = importlib.import_module("lastscrew.plan.planner").plan
        finally:
            sys.meta_path.remove(finder)
    return planner


@contextmanager
def _fresh_modules() -> Iterator[None]:
    """Inside, the planner's modules are loaded anew; afterwards the real ones are back."""
    parents = [sys.modules["lastscrew.plan"], sys.modules["lastscrew.device"]]
    attributes = [dict(vars(parent)) for parent in parents]
    real = {name: module for name, module in sys.modules.items() if _is_reloaded(name)}
    for name in real:
        del sys.modules[name]
    try:
        yield
    finally:
        for name in [name for name in sys.modules if _is_reloaded(name)]:
            del sys.modules[name]
        sys.modules.update(real)
        for parent, before in zip(parents, attributes, strict=True):
            vars(parent).clear()
            vars(parent).update(before)


def _is_reloaded(name: str) -> bool:
    return name.startswith(RELOADED) and name not in KEPT
