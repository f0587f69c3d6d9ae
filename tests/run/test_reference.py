"""The page on run events is true: its tables are made from the events, its example is read."""

from __future__ import annotations

import json
import re
from pathlib import Path

from click.testing import CliRunner
from jsonschema import Draft202012Validator

from lastscrew.cli.main import main
from lastscrew.run.events import HAPPENINGS
from lastscrew.run.lines import event_schema, read_events
from lastscrew.run.reference import event_reference

PAGE = (Path(__file__).parents[2] / "docs" / "run-events.md").read_text(encoding="utf-8")


def test_the_tables_are_those_of_the_events() -> None:
    """Else: put the output of ``lastscrew schema --events --markdown`` between the two marks."""
    there = re.search(r"<!-- events -->\n(.*)<!-- end -->", PAGE, re.DOTALL)
    assert there is not None
    assert there[1].strip() == event_reference().strip()


def test_every_event_and_every_key_is_described() -> None:
    reference = event_reference()
    for name in HAPPENINGS:
        assert f"\n### {name}\n" in reference


def test_the_example_on_the_page_can_be_read() -> None:
    example = re.search(r"```jsonl\n(.*?)```", PAGE, re.DOTALL)
    assert example is not None
    assert len(read_events(example[1]).events) == 5


def test_the_command_line_prints_schema_and_reference() -> None:
    def printed(*arguments: str) -> str:
        result = CliRunner().invoke(
            main, ["schema", "--events", *arguments], catch_exceptions=False
        )
        assert result.exit_code == 0
        return result.stdout

    schema = json.loads(printed())
    Draft202012Validator.check_schema(schema)
    assert schema == json.loads(json.dumps(event_schema()))
    assert printed("--markdown") == event_reference()
