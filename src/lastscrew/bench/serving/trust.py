"""What another screen needs to trust this installation: the authority, its fingerprint, the address as QR."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import segno
from cryptography import x509

from lastscrew.bench.config import Config
from lastscrew.bench.serving.addresses import best_name
from lastscrew.bench.serving.certificates import fingerprint_of


@dataclass(frozen=True, slots=True)
class Trust:
    """How to come to trust it.

    Attributes:
        file: The authority's certificate.
        fingerprint: Its SHA-256, in pairs.
        address: Where the page lies.
        code: The address as QR, an SVG of its own.
    """

    file: Path
    fingerprint: str
    address: str
    code: str


def authority_folder(config: Config) -> Path:
    """Where authority and keys lie."""
    return config.data / "authority"


def trust_of(config: Config) -> Trust | None:
    """None where the installation has no authority of its own."""
    file = authority_folder(config) / "authority.pem"
    if not config.secure or config.behind_proxy or not file.exists():
        return None
    address = address_of(config) + "trust/"
    out = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        out, kind="svg", scale=5, xmldecl=False, svgns=True
    )
    certificate = x509.load_pem_x509_certificate(file.read_bytes())
    return Trust(file, fingerprint_of(certificate), address, out.getvalue().decode())


def address_of(config: Config) -> str:
    """What to type on a screen to reach it."""
    name = best_name(config.host)
    shown = f"[{name}]" if ":" in name else name
    scheme = "https" if config.secure and not config.behind_proxy else "http"
    return f"{scheme}://{shown}:{config.port}/"
