"""Texts that tell a pass code are noticed, and ordinary notes are not."""

from __future__ import annotations

import pytest

from lastscrew.bench.depot.pass_codes import tells_pass_code


@pytest.mark.parametrize(
    "text",
    [
        "Password: hunter2",
        "password is Sommer2024!",
        "the passcode = 482913",
        "PIN 4711",
        "pin code: 0000",
        "Login: ada / secret",
        "Passwort lautet Blumenwiese",
        "Kennwort: abc123",
        "her pw: qwertz",
        "unlock pattern: L from top left",
        "password blue42horse",
        "PIN-Code: 1234",
    ],
)
def test_a_text_that_tells_a_pass_code_is_noticed(text: str) -> None:
    assert tells_pass_code(text)


@pytest.mark.parametrize(
    "text",
    [
        "The password is not known.",
        "Owner forgot the password",
        "pin 4 of the plug is bent",
        "hinge pin: bent",
        "locating pin worn",
        "Password is needed, owner comes along",
        "stops at the login screen",
        "Kennwort ist nicht bekannt",
        "guest account is there",
        "screen shows code 0142 at start",
        "the part number is LM-300",
        "",
    ],
)
def test_an_ordinary_note_is_left_alone(text: str) -> None:
    assert not tells_pass_code(text)
