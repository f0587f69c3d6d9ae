"""The depot's own rules, as the events leave them."""

from __future__ import annotations

from dataclasses import dataclass, fields

from lastscrew.bench.models import StoredEvent


@dataclass(frozen=True, slots=True)
class DepotRules:
    """What a depot decides for itself; the defaults are ours.

    Attributes:
        second_check_share: Share of the jobs of those who are no beginners that a second person looks at
            before they are closed, 0 to 1. A beginner's are all looked at.
        erase_after_days: Days after hand-back until the owner's data are erased.
        labour_rate: Money an hour, for prices of work; 0 where none is set and the planner's own is assumed.
    """

    second_check_share: float = 0.1
    erase_after_days: float = 180
    labour_rate: float = 0


MOST = {"second_check_share": 1.0, "erase_after_days": 3650.0, "labour_rate": 100_000.0}
"""The largest value of each rule."""


def depot_rules() -> DepotRules:
    """The rules now."""
    known = {spec.name for spec in fields(DepotRules)}
    found: dict[str, float] = {}
    for body in (
        StoredEvent.objects.filter(name="rule_changed")
        .order_by("position")
        .values_list("body", flat=True)
    ):
        if body["rule"] in known:
            found[body["rule"]] = float(body["value"])
    return DepotRules(**found)
