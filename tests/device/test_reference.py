"""The reference page in docs/ is the one that the table of keys makes."""

from __future__ import annotations

import re
from pathlib import Path

from lastscrew.device.keys import ACCESS, DEVICE, SECTIONS, TOP
from lastscrew.device.model import KINDS
from lastscrew.device.reading import read_device
from lastscrew.device.reference import reference_page
from lastscrew.device.types import Entries

PAGE = Path(__file__).parent.parent.parent / "docs" / "device-file.md"


def test_the_page_is_up_to_date() -> None:
    """docs/device-file.md is what ``lastscrew schema --markdown`` prints."""
    assert PAGE.read_text(encoding="utf-8") == reference_page()


def test_every_key_and_kind_has_its_row() -> None:
    """Each key stands in its own section's table, each kind is named."""
    page = reference_page()
    for section in SECTIONS:
        assert isinstance(section.type, Entries)
        text = page.split(f"## `{section.name}`\n")[1].split("\n## ")[0]
        for key in section.type.record.keys:
            assert f"| `{key.name}` |" in text
            assert key.help in text
    for key in (*TOP.keys, *DEVICE.keys, *ACCESS.keys):
        assert f"| `{key.name}` |" in page
    for kind in KINDS:
        assert f"`{kind}`" in page


def test_the_example_of_the_page_is_valid() -> None:
    """What the page shows can be read without error."""
    examples = re.findall(r"```yaml\n(.*?)```", reference_page(), re.DOTALL)
    assert examples
    for example in examples:
        assert read_device(example).errors == ()
