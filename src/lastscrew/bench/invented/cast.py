"""Who and what is in the invented depot. Every name, number and sentence is made up."""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

PEOPLE: Final = ("Ada Winther", "Ben Okoro", "Cleo Marsh")
PLACES: Final = (
    "Bench 1",
    "Bench 2",
    "Bench 3",
    "Shelf A",
    "Shelf B",
    "Shelf C",
    "Sand box by the door",
)
OWNERS: Final = (
    "H. Alderney", "M. Brisk", "T. Calloway", "S. Dunmore", "Reed & Sons, office", "L. Everard", "School at the Mill",
    "P. Fenwick", "J. Garrow", "Harbour Library",
)  # fmt: skip

State = Literal["taken_in", "set_apart", "at_work", "parked", "to_prove", "proven", "gone"]

COUNTS: Final[dict[State, int]] = {
    "taken_in": 8,
    "set_apart": 2,
    "at_work": 9,
    "parked": 8,
    "to_prove": 3,
    "proven": 3,
    "gone": 7,
}
"""How many of the forty units stand where."""


class Story(NamedTuple):
    """What a machine came in with, and what is to be done about it."""

    complaint: str
    pieces: tuple[str, ...]


STORIES: Final[dict[str, tuple[Story, ...]]] = {
    "notebook": (
        Story("Some keys do nothing, others twice.", ("keyboard",)),
        Story("Runs for ten minutes and then it is off.", ("pack",)),
        Story("Loud, then hot, then slow.", ("fan",)),
        Story("The pad does not click any more.", ("pad",)),
    ),
    "slate": (
        Story("Must stay on its charger all day.", ("pack",)),
        Story("Nothing comes out of the loudspeaker.", ("speakers",)),
        Story("Pictures from the back are foggy.", ("rear_camera",)),
    ),
    "extractor": (
        Story("Does not start at the switch, only sometimes.", ("switch",)),
        Story("Blows dust where the air comes out.", ("filter",)),
        Story("Hums and does not turn.", ("motor",)),
    ),
}
"""Complaints by demo device."""

WAITS: Final = (
    ("a part from the store", 3),
    ("an approval of the price by the owner", 1),
    ("the owner's word on the data", 2),
    ("a second person for the heavy half", 0),
)
"""What parked jobs wait for, and for how many days from now."""
