"""Which installation a command is about, for the commands that look after its data."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from lastscrew.bench.config import Config

DEFAULT_DATA = "lastscrew-data"
DATA_HELP = (
    f"Folder of the installation. [default: the variable LASTSCREW_DATA, else {DEFAULT_DATA}]"
)

data_option = click.option("--data", metavar="DIR", default=None, help=DATA_HELP)
json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")


def installation(data: str | None) -> Config:
    """The installation that the option and the environment name.

    Raises:
        InputError: A variable does not hold what it should.
    """
    from lastscrew.bench.config import DATA, config_from

    named = data or os.environ.get(DATA) or DEFAULT_DATA
    return config_from({**os.environ, DATA: named})


_ROWS = {
    "people": ("account", "accounts"),
    "tokens": ("token", "tokens"),
    "revisions": ("revision of a device file", "revisions of device files"),
    "drafts": ("draft", "drafts"),
    "device_photos": ("photo under a drawing", "photos under drawings"),
    "photos": ("photo on record", "photos on record"),
    "owners": ("owner's data", "owners' data"),
    "events": ("event", "events"),
    "waiting": ("waiting event", "waiting events"),
    "branches": ("branch", "branches"),
    "pictures": ("picture file", "picture files"),
}


def told_rows(counts: Mapping[str, int]) -> str:
    """How many rows of each table, in words; what there is none of is left out."""
    told = [f"{count} {_ROWS[name][count != 1]}" for name, count in counts.items() if count]
    return ", ".join(told) or "nothing"
