"""Numbers on the command line are finite: a range check alone lets ``nan`` and ``inf`` through."""

from __future__ import annotations

from importlib import import_module

import click
import pytest
from click.testing import CliRunner

from lastscrew.cli.main import COMMANDS, main
from lastscrew.cli.numbers import FiniteRange

OPTIONS = [
    (name, option.opts[0])
    for name in COMMANDS
    for option in import_module(f"lastscrew.cli.{name.replace('-', '_')}").command.params
    if isinstance(option, click.Option) and isinstance(option.type, click.types.FloatParamType)
]


@pytest.mark.parametrize(("command", "option"), OPTIONS)
@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e999"])
def test_what_is_no_finite_number_is_refused(command: str, option: str, value: str) -> None:
    """Each option of each command that takes a number, before any file is read."""
    result = CliRunner().invoke(main, [command, option, value, "no-such-file"])
    assert result.exit_code == 2
    assert option in result.output


def test_a_number_within_its_limits_is_taken() -> None:
    """The limits are those of the range."""
    assert FiniteRange(0, 2).convert("1.5", None, None) == 1.5
