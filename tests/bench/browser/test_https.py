"""The work page over HTTPS, in a browser that trusts the installation's own certificate."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import shutil
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import Browser, Error, expect

from lastscrew.bench.config import Config
from lastscrew.bench.serving.certificates import own_certificate
from lastscrew.bench.store.jobs import load_job
from tests.bench.browser.conftest import CHROMIUM, window
from tests.bench.browser.serving import serving
from tests.bench.browser.test_working import all_sent, new_job, open_job, tap
from tests.bench.conftest import using


def key_print(chain: Path) -> str:
    """What a browser is told to trust: SHA-256 of the public key, base64."""
    certificate = x509.load_pem_x509_certificates(chain.read_bytes())[0]
    key = certificate.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.b64encode(hashlib.sha256(key).digest()).decode()


def test_over_https_the_page_goes_on_without_the_network(
    tmp_path: Path, migrated: Path, browser: Browser
) -> None:
    names = ("localhost", "127.0.0.1")
    made = own_certificate(tmp_path / "authority", names, names, dt.datetime.now(dt.UTC))
    config = Config(tmp_path / "data")
    config.data.mkdir()
    shutil.copyfile(migrated, config.sqlite_file)
    with (
        using(config),
        serving(config, certificate=made.chain, key=made.key) as site,
    ):
        run = new_job("fan")
        with window(browser, site.address) as (stranger, _), pytest.raises(Error, match="CERT"):
            stranger.goto("/")
        trusting = browser.browser_type.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", f"--ignore-certificate-errors-spki-list={key_print(made.chain)}"],
        )
        try:
            with window(trusting, site.address) as (page, watch):
                open_job(page, run)
                page.wait_for_selector("body[data-offline]")
                tap(page)
                all_sent(page)
                watch.offline = True
                page.context.set_offline(True)
                page.reload()
                page.wait_for_selector("body[data-ready]")
                for _ in range(3):
                    tap(page)
                expect(page.locator("[data-at=status]")).to_contain_text("not sent yet")
                page.context.set_offline(False)
                all_sent(page)
                cookies = page.context.cookies()
                assert cookies
                assert all(cookie.get("secure") for cookie in cookies)
        finally:
            trusting.close()
        assert load_job(run).state.open == ("foot_bond", "cover_screws")
