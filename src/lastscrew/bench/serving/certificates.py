"""A certificate authority of the installation's own, so that tablets on the bench can be served over HTTPS.

The authority signs for private addresses and the names of this machine only (name constraints, RFC 5280
§4.2.1.10): whoever trusts it on a tablet does not trust it for any other site, whatever becomes of its key.
Keys are P-256; the authority lasts ten years, the server's certificate a year and is made anew a month before
its end or when a name was added.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from dataclasses import dataclass
from ipaddress import IPv4Network, IPv6Network, ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from lastscrew.problems import InputError, Problem

AUTHORITY_DAYS = 3650
SERVER_DAYS = 365
RENEW_DAYS = 30

PRIVATE_NETWORKS: tuple[IPv4Network | IPv6Network, ...] = tuple(
    ip_network(text)
    for text in (
        "127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "::1/128", "fc00::/7",
        "fe80::/10",
    )
)  # fmt: skip
"""Loopback, private and link-local addresses (RFC 1122, 1918, 3927, 4193, 4291)."""

PRIVATE_NAMES = ("localhost", "local", "lan", "internal", "home.arpa", "test")
"""Names that no public site has (RFC 6761, 6762, 8375; ``lan`` and ``internal`` by common practice)."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """Files of a server certificate.

    Attributes:
        chain: The certificate, the authority behind it.
        key: Its private key.
        authority: The authority's certificate, None where the user brought a certificate.
        fingerprint: SHA-256 of the authority (or of the brought certificate), in pairs.
        is_new: The authority was made just now.
    """

    chain: Path
    key: Path
    authority: Path | None
    fingerprint: str
    is_new: bool = False


def own_certificate(
    folder: Path, names: tuple[str, ...], needed: tuple[str, ...], now: dt.datetime
) -> Certificate:
    """The certificate for ``names``, made or renewed as needed.

    Args:
        folder: Where authority and keys lie; made if missing, readable by its owner only.
        names: Host names and addresses that this machine has.
        needed: Those among them that the user asked for; the others are left out where the authority
            was made before they were there.
        now: The moment, with its zone.

    Raises:
        InputError: The authority may not sign for a needed name, or its files are broken.
    """
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    files = {
        name: folder / f"{name}.pem"
        for name in ("authority", "authority-key", "server", "server-key")
    }
    is_new = not files["authority"].exists()
    if is_new:
        _make_authority(files["authority"], files["authority-key"], names, now)
    authority = _load(files["authority"])
    names = _permitted(authority, names, needed, folder)
    if not _serves(files["server"], files["server-key"], authority, names, now):
        _make_server(files, authority, names, now)
    return Certificate(
        files["server"], files["server-key"], files["authority"], fingerprint_of(authority), is_new
    )


def brought_certificate(chain: Path, key: Path) -> Certificate:
    """A certificate that the user brought, looked at before it is used.

    Raises:
        InputError: A file is not what it should be, or key and certificate do not belong together.
        OSError: A file can't be read.
    """
    certificate = _load(chain)
    if _public(_load_key(key).public_key()) != _public(certificate.public_key()):
        raise InputError(
            [
                Problem(
                    "this key does not belong to the certificate",
                    f"Give the key of {chain}.",
                    file=str(key),
                )
            ]
        )
    return Certificate(chain, key, None, fingerprint_of(certificate))


def fingerprint_of(certificate: x509.Certificate) -> str:
    """SHA-256 over the certificate, as browsers and tablets show it."""
    digest = (
        hashlib.sha256(certificate.public_bytes(serialization.Encoding.DER)).hexdigest().upper()
    )
    return ":".join(digest[at : at + 2] for at in range(0, len(digest), 2))


def _make_authority(file: Path, key_file: Path, names: tuple[str, ...], now: dt.datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Lastscrew bench authority")])
    permitted: list[x509.GeneralName] = [x509.IPAddress(net) for net in PRIVATE_NETWORKS]
    permitted += [x509.DNSName(text) for text in PRIVATE_NAMES]
    permitted += [_general(text) for text in names if not _is_private(text)]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(sign_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write_key(key_file, key)
    _write(file, certificate.public_bytes(serialization.Encoding.PEM))


def _make_server(
    files: dict[str, Path], authority: x509.Certificate, names: tuple[str, ...], now: dt.datetime
) -> None:
    authority_key = _load_key(files["authority-key"])
    key = ec.generate_private_key(ec.SECP256R1())
    certificate = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Lastscrew bench")]))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=SERVER_DAYS))
        .add_extension(
            x509.SubjectAlternativeName([_alternative(n) for n in names]), critical=False
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(sign_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()),
            critical=False,
        )
        .sign(authority_key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    _write_key(files["server-key"], key)
    _write(files["server"], certificate.public_bytes(pem) + authority.public_bytes(pem))


def _usage(*, sign_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not sign_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=sign_certificates,
        crl_sign=sign_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _serves(
    file: Path,
    key_file: Path,
    authority: x509.Certificate,
    names: tuple[str, ...],
    now: dt.datetime,
) -> bool:
    """True when the server's certificate is there, of this authority, for these names and not about to end."""
    if not file.exists() or not key_file.exists():
        return False
    certificate = _load(file)
    if certificate.issuer != authority.subject or not _signed_by(certificate, authority):
        return False
    if _public(_load_key(key_file).public_key()) != _public(certificate.public_key()):
        return False
    if certificate.not_valid_after_utc - now < dt.timedelta(days=RENEW_DAYS):
        return False
    held = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {_alternative(name) for name in names} <= set(held)


def _signed_by(certificate: x509.Certificate, authority: x509.Certificate) -> bool:
    try:
        certificate.verify_directly_issued_by(authority)
    except (ValueError, TypeError, InvalidSignature):
        return False
    return True


def _permitted(
    authority: x509.Certificate, names: tuple[str, ...], needed: tuple[str, ...], folder: Path
) -> tuple[str, ...]:
    """The names that the authority may sign for; those that were asked for by hand have to be among them."""
    held = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    allowed = held.permitted_subtrees or []
    refused = [name for name in names if not _is_private(name) and _general(name) not in allowed]
    if wanted := [name for name in refused if name in needed]:
        raise InputError(
            [
                Problem(
                    f"the authority of this installation may not sign for {name}",
                    f"Bring a certificate with --cert and --key, or move {folder} away: a new authority "
                    "is made, which every tablet has to trust anew.",
                    path="--name",
                )
                for name in wanted
            ]
        )
    return tuple(name for name in names if name not in refused)


def _is_private(name: str) -> bool:
    try:
        address = ip_address(name)
    except ValueError:
        return any(name == tail or name.endswith(f".{tail}") for tail in PRIVATE_NAMES)
    return any(address in net for net in PRIVATE_NETWORKS if net.version == address.version)


def _general(name: str) -> x509.GeneralName:
    """A name as a constraint: an address is a network of one."""
    try:
        return x509.IPAddress(ip_network(name))
    except ValueError:
        return x509.DNSName(name)


def _alternative(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _load(file: Path) -> x509.Certificate:
    try:
        return x509.load_pem_x509_certificates(file.read_bytes())[0]
    except ValueError:
        raise InputError(
            [
                Problem(
                    "this is no certificate in PEM form",
                    "Give the certificate's own file.",
                    file=str(file),
                )
            ]
        ) from None


def _load_key(file: Path) -> ec.EllipticCurvePrivateKey:
    try:
        key = serialization.load_pem_private_key(file.read_bytes(), None)
    except (ValueError, TypeError):
        raise InputError(
            [
                Problem(
                    "this is no private key in PEM form without a password",
                    "Give the key's own file.",
                    file=str(file),
                )
            ]
        ) from None
    return key  # type: ignore[return-value]  # any kind of key will do where only its public half is asked


def _public(key: object) -> bytes:
    return key.public_bytes(  # type: ignore[attr-defined,no-any-return]  # every kind of public key has it
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )


def _write_key(file: Path, key: ec.EllipticCurvePrivateKey) -> None:
    _write(
        file,
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        ),
    )


def _write(file: Path, data: bytes) -> None:
    """Write a file whole or not at all, readable by its owner only."""
    half = file.with_suffix(".half")
    half.unlink(missing_ok=True)
    descriptor = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())
    half.replace(file)
