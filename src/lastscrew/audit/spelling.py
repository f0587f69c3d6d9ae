"""How the text itself spells a name: an account compares names in small letters, a person reads them as they stand."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from lastscrew.audit.account import Account
from lastscrew.audit.findings import Finding

_QUOTED: Final = re.compile(r'"([^"]+)"')


def as_written(account: Account, finding: Finding) -> Finding:
    """The finding with the names that stand in quotes as the text has them, in its remedy too."""
    text, remedy = finding.text, finding.remedy
    for name in dict.fromkeys(_QUOTED.findall(text)):
        written = spelt(account, name)
        if written != name:
            text = text.replace(f'"{name}"', f'"{written}"')
            remedy = re.sub(rf"\b{re.escape(name)}\b", written, remedy)
    return replace(finding, text=text, remedy=remedy)


def spelt(account: Account, name: str) -> str:
    """The spelling that the text has most often; the name itself where it is nowhere so."""
    written = account.names.said.get(name, name)
    return written if written.lower() == name else name
