"""The authority of an installation: what it signs, what it refuses, when it renews."""

from __future__ import annotations

import datetime as dt
import socket
import ssl
import threading
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from lastscrew.bench.serving.addresses import own_names
from lastscrew.bench.serving.certificates import Certificate, brought_certificate, own_certificate
from lastscrew.problems import InputError

NOW = dt.datetime(2026, 3, 2, 9, 30, tzinfo=dt.UTC)
NAMES = ("localhost", "bench.local", "127.0.0.1", "192.168.7.20")


def _handshake(certificate: Certificate, trusted: Path, name: str) -> str:
    """Speak TLS as a browser would: the name is checked, the chain is checked. Returns the protocol."""
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(certificate.chain, certificate.key)
    asking = ssl.create_default_context(cafile=str(trusted))
    near, far = socket.socketpair()

    def answer() -> None:
        try:
            with serving.wrap_socket(far, server_side=True) as secure:
                secure.recv(1)
        except OSError:
            far.close()

    thread = threading.Thread(target=answer)
    thread.start()
    try:
        with asking.wrap_socket(near, server_hostname=name) as secure:
            secure.send(b"x")
            return str(secure.version())
    finally:
        near.close()
        thread.join()


@pytest.mark.parametrize("name", NAMES)
def test_a_screen_that_trusts_the_authority_connects_under_each_name(
    tmp_path: Path, name: str
) -> None:
    made = own_certificate(tmp_path, NAMES, NAMES, dt.datetime.now(dt.UTC))
    assert made.authority is not None
    assert _handshake(made, made.authority, name) == "TLSv1.3"


def test_a_screen_that_trusts_another_authority_does_not_connect(tmp_path: Path) -> None:
    now = dt.datetime.now(dt.UTC)
    made = own_certificate(tmp_path / "a", NAMES, NAMES, now)
    other = own_certificate(tmp_path / "b", NAMES, NAMES, now)
    assert other.authority is not None
    with pytest.raises(ssl.SSLCertVerificationError):
        _handshake(made, other.authority, "localhost")


def test_an_independent_verifier_accepts_the_chain_and_no_other_name(tmp_path: Path) -> None:
    made = own_certificate(tmp_path, NAMES, NAMES, NOW)
    leaf, authority = x509.load_pem_x509_certificates(made.chain.read_bytes())
    builder = PolicyBuilder().store(Store([authority])).time(NOW)
    builder.build_server_verifier(x509.DNSName("bench.local")).verify(leaf, [])
    with pytest.raises(VerificationError):
        builder.build_server_verifier(x509.DNSName("bank.example")).verify(leaf, [])


def test_the_authority_is_bound_to_private_names_so_that_its_key_is_of_no_use_elsewhere(
    tmp_path: Path,
) -> None:
    own_certificate(tmp_path, NAMES, NAMES, NOW)
    authority = x509.load_pem_x509_certificate((tmp_path / "authority.pem").read_bytes())
    bound = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert bound.critical
    with pytest.raises(InputError, match=r"may not sign for bank\.example"):
        own_certificate(tmp_path, (*NAMES, "bank.example"), ("bank.example",), NOW)


def test_a_name_that_nobody_asked_for_is_left_out_where_the_authority_is_older(
    tmp_path: Path,
) -> None:
    own_certificate(tmp_path, NAMES, (), NOW)
    made = own_certificate(tmp_path, (*NAMES, "renamed-host"), (), NOW)
    leaf = x509.load_pem_x509_certificates(made.chain.read_bytes())[0]
    names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert "renamed-host" not in names.get_values_for_type(x509.DNSName)


def test_authority_and_certificate_stay_the_same_from_start_to_start(tmp_path: Path) -> None:
    first = own_certificate(tmp_path, NAMES, NAMES, NOW)
    before = first.chain.read_bytes()
    second = own_certificate(tmp_path, NAMES, NAMES, NOW + dt.timedelta(days=300))
    assert (first.is_new, second.is_new) == (True, False)
    assert second.chain.read_bytes() == before


@pytest.mark.parametrize(
    ("names", "days"), [(NAMES, 340), (("pad.local", *NAMES), 1)], ids=["ends soon", "new name"]
)
def test_the_certificate_is_renewed_by_the_same_authority(
    tmp_path: Path, names: tuple[str, ...], days: int
) -> None:
    first = own_certificate(tmp_path, NAMES, NAMES, NOW)
    before = first.chain.read_bytes()
    second = own_certificate(tmp_path, names, names, NOW + dt.timedelta(days=days))
    assert second.chain.read_bytes() != before
    assert second.fingerprint == first.fingerprint


def test_keys_are_for_their_owner_only(tmp_path: Path) -> None:
    own_certificate(tmp_path / "authority", NAMES, NAMES, NOW)
    for file in (tmp_path / "authority").iterdir():
        assert file.stat().st_mode & 0o077 == 0, file


def test_a_brought_key_has_to_belong_to_the_certificate(tmp_path: Path) -> None:
    one = own_certificate(tmp_path / "a", NAMES, NAMES, NOW)
    other = own_certificate(tmp_path / "b", NAMES, NAMES, NOW)
    assert brought_certificate(one.chain, one.key).authority is None
    with pytest.raises(InputError, match="does not belong"):
        brought_certificate(one.chain, other.key)


@pytest.mark.parametrize("text", ["", "no certificate", "-----BEGIN CERTIFICATE-----\nAAAA\n"])
def test_what_is_no_certificate_is_refused_with_its_name(tmp_path: Path, text: str) -> None:
    one = own_certificate(tmp_path / "a", NAMES, NAMES, NOW)
    file = tmp_path / "mine.pem"
    file.write_text(text)
    with pytest.raises(InputError) as refused:
        brought_certificate(file, one.key)
    assert refused.value.problems[0].file == str(file)
    with pytest.raises(InputError):
        brought_certificate(one.chain, file)


def test_an_address_that_means_all_stands_for_every_address_of_the_machine() -> None:
    names = own_names("0.0.0.0", ("pad.local",))
    assert {"localhost", "127.0.0.1", "pad.local", socket.gethostname().lower()} <= set(names)
    assert "0.0.0.0" not in names
    assert own_names("192.168.7.20") == ("localhost", "127.0.0.1", "192.168.7.20", "::1")
