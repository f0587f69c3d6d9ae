"""The faults of the invented notebook: enough of them, labelled as invented, and sound."""

from __future__ import annotations

from importlib.resources import files

import pytest

from lastscrew.audit.device_file import audit_device
from lastscrew.device.model import Device
from lastscrew.device.reading import read_device
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.proposing import Terms, model_for, propose

DATA = files("lastscrew.demo").joinpath("notebook.device.yaml").read_bytes()
RESULT = read_device(DATA, "notebook.device.yaml")


@pytest.fixture(scope="module")
def device() -> Device:
    """The notebook."""
    assert RESULT.device is not None
    return RESULT.device


def test_there_are_enough_faults_and_checks(device: Device) -> None:
    """At least 25 faults and 20 checks, one of them the device's own, some swap tests, some measured values."""
    assert len(device.faults) >= 25
    assert len(device.checks) >= 20
    assert sum(check.final for check in device.checks.values()) == 1
    assert sum(check.swap_test is not None for check in device.checks.values()) >= 2
    assert sum(check.limits is not None for check in device.checks.values()) >= 3


def test_they_are_labelled_as_invented() -> None:
    """The comment above the sections says so, before the first number."""
    text = DATA.decode("utf-8")
    heading = text[: text.index("\nsymptoms:")].rpartition("# --- what can be wrong")[2]
    assert "All frequencies, chances, times and prices from here on are invented" in heading


def test_the_audit_finds_nothing_wrong_with_them() -> None:
    """No warning about faults, and none of them alike, hidden or without a mend."""
    about = ("faults.", "checks.", "symptoms.")
    assert [f.code for f in audit_device(RESULT) if f.path.startswith(about)] == []


def test_every_fault_can_be_told_and_mended(device: Device) -> None:
    """Each shows some symptom, and some mend cures it as a rule."""
    model = model_for(device, Evidence(), terms=Terms(stock=("all",)))
    for fault in model.faults:
        assert fault.symptoms, fault.id
    named = {symptom for fault in model.faults for symptom in fault.symptoms}
    assert named == set(device.symptoms)


@pytest.mark.parametrize(
    ("shows", "results", "likeliest"),
    [
        (("keys_fail",), (("key_test", "all"), ("outside_keys", "good")), "keyboard_ribbon_loose"),
        (("no_drive",), (("setup_drive", "bad"),), "drive_bad"),
        (("no_picture",), (("torch", "faint"),), "backlight_dead"),
        (("hot_and_loud",), (("fan_sound", "rattles"), ("load_test", "95")), "fan_worn"),
        (("no_charge",), (("other_charger", "good"), ("charging_power", "0"), ("pack_voltage", "11.8")), "charger_bad"),
    ],
)  # fmt: skip
def test_what_a_technician_would_conclude(
    device: Device, shows: tuple[str, ...], results: tuple[tuple[str, str], ...], likeliest: str
) -> None:
    """Everyday cases: the fault that a colleague would name comes first."""
    advice = propose(device, Evidence(shows=shows, results=results), probes=3)
    assert advice.posterior[0][0] == likeliest
    assert advice.next is not None
    assert advice.lower_bound <= advice.expected_cost
