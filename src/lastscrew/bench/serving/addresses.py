"""By which names and addresses this machine is called."""

from __future__ import annotations

import socket
import struct
from ipaddress import ip_address

_SIOCGIFADDR = 0x8915
"""Ask the kernel for the IPv4 address of an interface (Linux, <bits/ioctls.h>)."""


def own_names(host: str, further: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Names and addresses for a certificate and for the host check, in a fixed order.

    Args:
        host: What the server listens on; an address that means "all" stands for every one of them.
        further: Names that the user gave.
    """
    found = {"localhost", "127.0.0.1", "::1", *further}
    if is_every_address(host):
        name = socket.gethostname().lower()
        found |= {name, f"{name.partition('.')[0]}.local"} if name else set()
        found |= set(_addresses())
    else:
        found.add(host.strip("[]").lower())
    return tuple(sorted(found, key=lambda name: (_is_address(name), name)))


def is_every_address(host: str) -> bool:
    """True for the addresses that mean "every interface"."""
    try:
        return ip_address(host.strip("[]")).is_unspecified
    except ValueError:
        return False


def best_name(host: str) -> str:
    """What to type on another screen: the first address that another machine reaches."""
    if not is_every_address(host):
        return host
    outward = [address for address in _addresses() if not ip_address(address).is_loopback]
    return outward[0] if outward else "localhost"


def _is_address(name: str) -> bool:
    try:
        ip_address(name)
    except ValueError:
        return False
    return True


def _addresses() -> list[str]:
    """IPv4 addresses of all interfaces, in the order of the interfaces; nothing is sent."""
    try:
        import fcntl  # noqa: PLC0415 (not on every system)
    except ImportError:
        return sorted(
            {str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None)}
        )
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        for _, name in socket.if_nameindex():
            try:
                answer = fcntl.ioctl(asking, _SIOCGIFADDR, struct.pack("256s", name.encode()[:15]))
            except OSError:
                continue  # this interface has no address
            found.append(socket.inet_ntoa(answer[20:24]))
    return found
