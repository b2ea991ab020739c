"""What this computer is called on its network."""

from __future__ import annotations

import ipaddress
import socket
from contextlib import suppress

__all__ = ["address_to_type", "is_loopback", "names_of_machine"]


def is_loopback(host: str) -> bool:
    """Whether only this computer can reach an address."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def names_of_machine() -> set[str]:
    """Its names, as others may type them."""
    name = socket.gethostname().lower()
    names = {name, name.split(".")[0], f"{name.split('.')[0]}.local"}
    with suppress(OSError):
        names.add(socket.getfqdn().lower())
    return {found for found in names if found and found != "localhost"}


def address_to_type(host: str) -> str:
    """The address others type for a server that listens at `host`: where that means every
    address, the one this computer has towards the network."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return host
    if address.is_unspecified:
        address = ipaddress.ip_address(_outward(address.version))
    return f"[{address}]" if address.version == 6 else str(address)


def _outward(version: int) -> str:
    """No packet is sent: the system only says which address it would send from (the places
    asked for are kept for documentation, RFC 5737 and RFC 3849)."""
    family, place = ((socket.AF_INET, "192.0.2.1") if version == 4 else
                     (socket.AF_INET6, "2001:db8::1"))
    with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as asking:
        asking.connect((place, 9))
        return str(asking.getsockname()[0])
    return "127.0.0.1" if version == 4 else "::1"
