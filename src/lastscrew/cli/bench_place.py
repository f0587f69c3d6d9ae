"""Which installation a command is about, for the commands that look after its data."""

from __future__ import annotations

import os
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
