"""Network addresses as they are counted."""

from __future__ import annotations

import ipaddress


def network(address: str) -> str:
    """Return an address as it is counted: one home or phone has a whole /64 of IPv6."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network(f"{found}/64", strict=False))
    return str(found)
