"""What the database holds. Kept: events, revisions, photos, owners' data, accounts. Derived: the rest."""

from lastscrew.bench.models.derived import Item, PartLineState, Run, StageTime, Unit
from lastscrew.bench.models.devices import DevicePhoto, Draft, Revision
from lastscrew.bench.models.kept import Branch, OwnerData, Photo, StoredEvent, WaitingEvent
from lastscrew.bench.models.people import LoginTry, Person, Token

__all__ = [
    "Branch",
    "DevicePhoto",
    "Draft",
    "Item",
    "LoginTry",
    "OwnerData",
    "PartLineState",
    "Person",
    "Photo",
    "Revision",
    "Run",
    "StageTime",
    "StoredEvent",
    "Token",
    "Unit",
    "WaitingEvent",
]
