"""The addresses of this machine on its local network, found without sending anything."""

from __future__ import annotations

import ipaddress
import socket

from balancer.errors import BadInput

LOOPBACK = "127.0.0.1"
#: A datagram socket is pointed at these in turn, and the system says from which address of its own
#: it would speak; pointing sends nothing. One address kept for documentation (RFC 5737), which
#: takes the usual way out, and the last of each private block (RFC 1918).
TOWARDS = ("203.0.113.1", "192.168.255.254", "172.31.255.254", "10.255.255.254")
#: Any port does, as nothing is sent; 9 is the discard service (RFC 863).
PORT = 9


def own_addresses() -> tuple[str, ...]:
    """Every IPv4 address that this machine would speak from, loopback left out."""
    found = []
    for far in TOWARDS:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as pointed:
            try:
                pointed.connect((far, PORT))
            except OSError:  # no way there
                continue
            near = str(pointed.getsockname()[0])
        if near not in found and not ipaddress.ip_address(near).is_loopback:
            found.append(near)
    return tuple(found)


def is_local(address: str) -> bool:
    """Whether an address is one of a local network, and not of the internet.

    References
    ----------
    IANA IPv4 Special-Purpose Address Registry (RFC 6890).

    Examples
    --------
    >>> is_local("192.168.1.20"), is_local("8.8.8.8"), is_local("0.0.0.0")
    (True, False, False)
    """
    ip = ipaddress.ip_address(address)
    return ip.is_private and not ip.is_unspecified


def kitchen_addresses() -> tuple[str, ...]:
    """The addresses at which the local network reaches this machine.

    Raises
    ------
    BadInput
        If there is none, or if every one is an address of the internet.
    """
    own = own_addresses()
    local = tuple(address for address in own if is_local(address))
    if local:
        return local
    if own:
        raise BadInput(
            f"The address of this machine, {own[0]}, is one of the internet, not of a local"
            " network; the sauces are not served there. Join the kitchen's own network, or leave"
            " --kitchen out."
        )
    raise BadInput(
        "This machine has no address on a local network. Join the kitchen's network, or leave"
        " --kitchen out to use the dashboard on this machine."
    )
