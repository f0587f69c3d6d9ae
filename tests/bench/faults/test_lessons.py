"""The bench learns from closed jobs: counts of what mended, chances of checks; what was taken back is left out."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from lastscrew.bench.depot.events import FaultTakenBack, FaultTried, SymptomsConfirmed
from lastscrew.bench.models import OwnerData
from lastscrew.bench.store.adding import add_depot_event, add_run_events
from lastscrew.bench.store.lessons import lessons
from lastscrew.faults.learning import CHECK_STRENGTH, STRENGTH
from lastscrew.run.events import Event, Exchanged, Finished, Happening, TakenBack
from tests.bench.conftest import Bench
from tests.bench.faults.radio import publish_radio, radio
from tests.bench.store.making import BY, started, unit

pytestmark = pytest.mark.usefixtures("bench", "published")

SILENT = SymptomsConfirmed(shows=("silent",), lacks=("dark",))


@pytest.fixture
def published(bench: Bench) -> None:
    """The radio is published."""
    publish_radio()


def closed(number: int, *told: Happening, outcome: str = "repaired") -> str:
    """A unit whose job has ended after what was told; its key."""
    key = f"u{number}"
    unit(key, number=number, device="radio")
    run = f"r{number}"
    add_run_events(run, [Event(id=f"{run}-s", what=started(radio()))], by=BY, unit=key)
    for n, what in enumerate(told):
        if isinstance(what, Exchanged | TakenBack):
            add_run_events(run, [Event(id=f"{run}-{n}", what=what)], by=BY)
        else:
            add_depot_event(key, what, by=BY, key=f"{run}-{n}")
    add_run_events(run, [Event(id=f"{run}-f", what=Finished(outcome=outcome))], by=BY)
    return key


def tried(what: str, outcome: str = "done") -> FaultTried:
    """A result."""
    return FaultTried(what=what, outcome=outcome)


def counted() -> dict[str, tuple[float, int]]:
    """How often each fault was seen, out of how many."""
    learnt = lessons(radio()).learnt
    assert learnt is not None
    return {fault: (count.seen, count.of) for fault, count in learnt.priors.items() if count.seen}


def test_the_mend_that_ended_a_repaired_job_says_which_fault_it_was() -> None:
    """Told on the fault page or by the work; what ended otherwise teaches nothing."""
    closed(1, SILENT, tried("hum", "hums"), tried("exchange_coil"))
    closed(2, SILENT, tried("volts", "4.1"), Exchanged(part="coil"))
    closed(3, SILENT, tried("exchange_supply"))
    closed(4, SILENT, tried("exchange_coil"), outcome="returned_unrepaired")
    assert counted() == {"coil_bad": (2, 3), "supply_bad": (1, 3)}


def test_frequencies_and_chances_are_the_counts_beside_what_the_file_counts_for() -> None:
    """The means are worked out here by the formula of the page on faults."""
    for number in range(1, 5):
        closed(number, SILENT, tried("volts", "3" if number < 4 else "6"), tried("exchange_coil"))
    told = lessons(radio())
    faults = radio().faults
    share = faults["coil_bad"].prior / sum(fault.prior for fault in faults.values())
    assert told.device.faults["coil_bad"].prior == pytest.approx(
        (STRENGTH * share + 4) / (STRENGTH + 4)
    )
    assert told.learnt is not None
    volts = told.learnt.chances["volts", "coil_bad", "bad"]
    assert (volts.seen, volts.of) == (3, 4)
    assert volts.value == pytest.approx((CHECK_STRENGTH * volts.given + 3) / (CHECK_STRENGTH + 4))
    dark = told.learnt.symptoms["dark", "coil_bad"]
    assert (dark.seen, dark.of) == (0, 4)
    assert told.results == len(("volts", "silent", "dark"))


def test_what_was_taken_back_is_left_out_also_after_the_job_has_ended() -> None:
    """A doubtful check teaches no chance, a mend taken back no frequency; the other jobs stay."""
    closed(1, SILENT, tried("volts", "bad"), tried("exchange_coil"))
    key = closed(2, SILENT, tried("volts", "bad"), tried("exchange_coil"))
    closed(3, Exchanged(part="supply"), TakenBack(about="r3-0"))

    def volts() -> int:
        learnt = lessons(radio()).learnt
        assert learnt is not None
        return learnt.chances["volts", "coil_bad", "bad"].of

    assert (counted(), volts()) == ({"coil_bad": (2, 2)}, 2)
    assert lessons(radio()).untold == 1
    add_depot_event(key, FaultTakenBack(about="r2-1"), by=BY)
    assert (counted(), volts()) == ({"coil_bad": (2, 2)}, 1)
    add_depot_event(key, FaultTakenBack(about="r2-2"), by=BY)
    assert counted() == {"coil_bad": (1, 1)}


def test_a_mend_after_which_the_device_still_failed_was_not_the_cure() -> None:
    """And results after the first mend teach nothing, for the machine was another one by then."""
    closed(
        1,
        SILENT,
        tried("hum", "hums"),
        tried("exchange_supply"),
        tried("whole", "faulty"),
        tried("volts", "bad"),
        tried("exchange_coil"),
        tried("whole", "works"),
    )
    assert counted() == {"coil_bad": (1, 1)}
    learnt = lessons(radio()).learnt
    assert learnt is not None
    assert {check for check, *_ in learnt.chances} == {"hum"}


def test_two_mends_without_a_check_between_them_share_the_job() -> None:
    """As the file has the two faults, 5 to 4."""
    closed(1, SILENT, tried("exchange_coil"), tried("exchange_supply"))
    seen = {fault: times for fault, (times, _) in counted().items()}
    assert seen == pytest.approx({"coil_bad": 5 / 9, "supply_bad": 4 / 9})
    assert lessons(radio()).shared == 1


def test_a_second_job_on_a_unit_has_its_own_results() -> None:
    """What was told before the first job ended belongs to that one."""
    closed(1, SILENT, tried("exchange_coil"))
    add_run_events("r1b", [Event(id="b-s", what=started(radio()))], by=BY, unit="u1")
    add_depot_event("u1", tried("exchange_lamp"), by=BY, key="b-1")
    add_run_events("r1b", [Event(id="b-f", what=Finished(outcome="repaired"))], by=BY)
    assert counted() == {"coil_bad": (1, 2), "lamp_bad": (1, 2)}


def test_the_page_shows_the_counts_and_reckons_with_them(bench: Bench) -> None:
    """The same complaint before and after ten closed jobs: the fault that they had is likelier."""
    technician = bench.client("technician")
    key = unit("u99", number=99, device="radio")
    OwnerData.objects.create(unit=key, complaint="No sound comes out.")
    place = f"/units/{key}/fault/"
    technician.post(f"{place}symptoms/", {"shows": "silent"})

    def chances() -> dict[str, str]:
        page = technician.get(place).content.decode()
        return dict(re.findall(r'<li><span>([^<]*)</span> <meter.*?class="p">([^<]*)<', page))

    before = chances()
    for number in range(1, 11):
        closed(number, tried("exchange_coil"))
    after = chances()
    page = technician.get(place).content.decode()
    assert "From 10 closed jobs here" in page
    assert "10 of 10" in page
    assert int(after["Coil is bad"].split()[0]) > int(before["Coil is bad"].split()[0]) + 10


def test_the_database_is_asked_a_bounded_number_of_times_and_once_until_a_job_ends() -> None:
    """However many jobs there are."""
    for number in range(1, 8):
        closed(number, SILENT, tried("exchange_coil"))
    with CaptureQueriesContext(connection) as first:
        lessons(radio())
    assert len(first) <= 3
    with CaptureQueriesContext(connection) as again:
        lessons(radio())
    assert len(again) == 1
    closed(8, SILENT, tried("exchange_supply"))
    assert counted() == {"coil_bad": (7, 8), "supply_bad": (1, 8)}


def test_nothing_is_learnt_where_no_job_has_ended() -> None:
    """The device stays as the file has it."""
    told = lessons(radio())
    assert told.device is radio() or told.device == radio()
    assert (told.jobs, told.learnt, told.mark) == (0, None, "")
