"""Three people at one installation over HTTPS with an authority of its own: what each sees, what each may not."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import zxingcpp
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from lastscrew.bench.access.signing_in import MOST_FOR_NAME
from lastscrew.bench.config import Config
from lastscrew.bench.models import Person, Token
from lastscrew.bench.serving.certificates import own_certificate
from lastscrew.bench.serving.trust import authority_folder
from lastscrew.bench.store.owners import keep_owner
from tests.bench.browser.conftest import CHROMIUM, Watch, window
from tests.bench.browser.serving import Site, serving
from tests.bench.browser.test_https import key_print
from tests.bench.conftest import PASSWORD, Bench, using
from tests.bench.store.making import unit

NAMES = ("localhost", "127.0.0.1")


@pytest.fixture(scope="module")
def depot(tmp_path_factory: pytest.TempPathFactory, migrated: Path) -> Iterator[Site]:
    """An installation that the whole depot reaches, with a lead, a technician, a guest and one unit."""
    config = Config(tmp_path_factory.mktemp("depot"), host="0.0.0.0", names=NAMES, secure=True)
    shutil.copyfile(migrated, config.sqlite_file)
    moment = dt.datetime.now(dt.UTC)
    made = own_certificate(authority_folder(config), NAMES, NAMES, moment)
    with using(config) as bench, serving(config, certificate=made.chain, key=made.key) as site:
        for role in ("lead", "technician", "guest"):
            bench.person(role)
        unit("u1", serial="SN-ROLES")
        keep_owner("u1", name="Ottilie Quast", complaint="It hums.")
        yield site


@pytest.fixture(scope="module")
def trusting(browser: Browser, depot: Site) -> Iterator[Browser]:
    """A browser that trusts this installation, and no other."""
    chain = authority_folder(depot.config) / "server.pem"
    found = browser.browser_type.launch(
        executable_path=CHROMIUM,
        args=["--no-sandbox", f"--ignore-certificate-errors-spki-list={key_print(chain)}"],
    )
    yield found
    found.close()


@pytest.fixture
def looked_at(trusting: Browser, depot: Site) -> Iterator[tuple[Page, Watch]]:
    """A window onto the installation; that the browser notes a refusal is right here."""
    with using(depot.config), window(trusting, depot.address) as (page, watch):
        yield page, watch
        watch.errors[:] = [error for error in watch.errors if "status of 40" not in error]


def sign_in(page: Page, name: str, password: str = PASSWORD) -> None:
    page.goto("/login/")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()


def sign_out(page: Page) -> None:
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


def refuses(page: Page, address: str) -> None:
    answer = page.goto(address)
    assert answer is not None
    assert answer.status == 403
    expect(page.get_by_role("heading", name="This is not for your account")).to_be_visible()


def test_each_of_three_people_sees_what_is_theirs_and_is_refused_the_rest(
    looked_at: tuple[Page, Watch],
) -> None:
    page, _ = looked_at
    menu = page.get_by_role("navigation", name="Main")
    page.goto("/units/u1/")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    sign_in(page, "some_guest")
    expect(menu).to_contain_text("Stock")
    expect(menu).not_to_contain_text("Take in")
    expect(menu).not_to_contain_text("Depot")
    page.goto("/units/u1/")
    expect(page.get_by_role("heading", name="U000001")).to_be_visible()
    expect(page.locator("main")).not_to_contain_text("Ottilie Quast")
    for address in ("/take-in/", "/take-in/batch/", "/devices/new-draft/", "/depot/"):
        refuses(page, address)
    sign_out(page)
    sign_in(page, "some_technician")
    expect(menu).to_contain_text("Take in")
    expect(menu).not_to_contain_text("Depot")
    page.goto("/units/u1/")
    expect(page.locator("main")).to_contain_text("Ottilie Quast")
    refuses(page, "/depot/")
    sign_out(page)
    # What was seen stays with who was let in: the way back shows nothing.
    page.go_back()
    expect(page.locator("main")).not_to_contain_text("Ottilie Quast")
    sign_in(page, "some_lead")
    expect(menu).to_contain_text("Depot")
    page.goto("/depot/")
    expect(page.get_by_role("heading", name="Who changed what")).to_be_visible()


def test_a_lead_lets_a_system_in_by_a_token_and_shuts_it(looked_at: tuple[Page, Watch]) -> None:
    page, _ = looked_at
    sign_in(page, "some_lead")
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    page.goto("/depot/")
    page.get_by_text("Let another system in").click()
    page.get_by_label("Which system").fill("shelf robot")
    page.get_by_label("look at units").check()
    page.get_by_role("button", name="Make a token").click()
    shown = page.locator(".fingerprint code")
    expect(shown).to_contain_text("lsc_")
    token = shown.inner_text()
    headers = {"Authorization": f"Bearer {token}"}
    context = page.context.browser.new_context(  # type: ignore[union-attr]
        base_url=page.url.partition("/depot/")[0], ignore_https_errors=True
    )
    asked = context.request.get("/api/units", headers=headers)
    assert (asked.status, "SN-ROLES" in asked.text()) == (200, True)
    assert context.request.get("/api/stock", headers=headers).status == 403
    page.get_by_role("link", name="Back").click()
    expect(page.locator("main")).not_to_contain_text(token)
    page.get_by_role("button", name="Shut shelf robot").click()
    expect(page.get_by_role("row", name="shelf robot units:read")).to_contain_text("shut")
    assert context.request.get("/api/units", headers=headers).status == 401
    context.close()
    assert Token.objects.get().sha256 == hashlib.sha256(token.encode()).hexdigest()
    expect(page.get_by_role("table").last).to_contain_text("shelf robot")


def test_a_person_changes_their_password_and_other_screens_sign_in_anew(
    looked_at: tuple[Page, Watch], trusting: Browser, depot: Site
) -> None:
    page, _ = looked_at
    Bench(depot.config).person("technician", "ada")
    sign_in(page, "ada")
    with window(trusting, depot.address) as (other, _watch):
        sign_in(other, "ada")
        expect(other.get_by_role("button", name="Sign out")).to_be_visible()
        page.get_by_role("link", name=re.compile("change the password")).click()
        new = "another long pass phrase"
        page.get_by_label("Present password").fill("not this one")
        page.get_by_label("New password").fill(new)
        page.get_by_role("button", name="Change it").click()
        expect(page.get_by_text("This is not your password.")).to_be_visible()
        page.get_by_label("Present password").fill(PASSWORD)
        page.get_by_label("New password").fill("short")
        page.get_by_role("button", name="Change it").click()
        expect(page.get_by_text("too short")).to_be_visible()
        page.get_by_label("Present password").fill(PASSWORD)
        page.get_by_label("New password").fill(new)
        page.get_by_role("button", name="Change it").click()
        expect(page.get_by_text("Your password is changed.")).to_be_visible()
        other.goto("/")
        expect(other.get_by_role("heading", name="Sign in")).to_be_visible()
    sign_out(page)
    sign_in(page, "ada")
    expect(page.get_by_text("Name and password do not fit.")).to_be_visible()
    sign_in(page, "ada", new)
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    assert Person.objects.get(username="ada").password.startswith("argon2$argon2id$")


def test_who_guesses_is_told_to_wait_and_waits_with_the_right_password_too(
    looked_at: tuple[Page, Watch], depot: Site
) -> None:
    page, _ = looked_at
    Bench(depot.config).person("technician", "bo")
    for _number in range(MOST_FOR_NAME):
        sign_in(page, "bo", "a guess at it")
        expect(page.get_by_text("Name and password do not fit.")).to_be_visible()
    sign_in(page, "bo")
    expect(page.get_by_text("Too many tries have failed.")).to_be_visible()
    page.goto("/stock/")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


def test_the_page_of_trust_shows_the_fingerprint_of_the_certificate_it_hands_out(
    looked_at: tuple[Page, Watch], depot: Site
) -> None:
    page, _ = looked_at
    page.goto("/login/")
    page.get_by_role("link", name="This browser warns about the certificate?").click()
    shown = page.locator(".fingerprint code")
    expect(shown).to_be_visible()
    expect(page.get_by_role("img", name="QR code of the address").locator("svg")).to_be_visible()
    given = page.context.request.get(
        f"{depot.address}/trust/authority.crt", ignore_https_errors=True
    )
    certificate = x509.load_pem_x509_certificate(given.body())
    digest = hashlib.sha256(certificate.public_bytes(Encoding.DER)).hexdigest()
    assert shown.inner_text().replace(":", "").lower() == digest
    address = page.locator("main ol b").first.inner_text()
    assert address.startswith("https://")
    assert address.endswith("/trust/")
    assert read_codes(page) == [address]


def read_codes(page: Page) -> list[str]:
    """What a reader of codes that is not ours (zxing) reads from the page."""
    shot = page.get_by_role("img", name="QR code of the address").screenshot()
    return [code.text for code in zxingcpp.read_barcodes(Image.open(io.BytesIO(shot)))]
