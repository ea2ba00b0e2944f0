"""Address: which of this computer's addresses a phone can reach, and which may be opened to it."""

import ipaddress
import socket

from holdzero.errors import InputError
from holdzero.quantity import quoted

_WAYS = ("192.168.255.254", "10.255.255.254", "172.31.255.254", "192.0.2.1")  # nothing is sent there
NEED = "one address of this computer in the workshop's own network, such as 192.168.1.20"


def addresses() -> tuple[str, ...]:
    """Return the addresses of this computer in its networks, the likeliest first; empty without a network."""
    likely = [_towards(way) for way in _WAYS]
    try:
        named = [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    except OSError:
        named = []
    return tuple(dict.fromkeys(address for address in (*likely, *named) if address and _reachable(address)))


def checked_address(text: str) -> str:
    """Return an address that may be opened to a phone.

    Parameters
    ----------
    text : str
        As typed; empty: the only one there is.

    Raises
    ------
    InputError
        It is none, stands for several, or reaches beyond the workshop; or none is named and there are several.
    """
    if not text:
        known = addresses()
        if len(known) == 1:
            return known[0]
        raise InputError(
            where="phone",
            found=f"{len(known)} addresses: {', '.join(known)}" if known else "no network",
            need=NEED,
            do="name it, e.g. --phone 192.168.1.20" if known else "join the network that the phone is in",
        )
    try:
        address = ipaddress.IPv4Address(text)
    except ValueError:
        raise _refused(quoted(text)) from None
    if address.is_unspecified or address.is_multicast or address.is_reserved:
        raise _refused(f"{address}, which is not one address")
    if address.is_global:
        raise _refused(f"{address}, which the whole internet can reach")
    if address == ipaddress.IPv4Address("127.0.0.1"):
        raise _refused(f"{address}, which only this computer can reach")
    return str(address)


def _refused(found_words: str) -> InputError:
    known = ", ".join(addresses())
    return InputError(
        where="phone", found=found_words, need=NEED, do=f"name one of {known}" if known else "name it"
    )


def _towards(way: str) -> str:
    """Return the address that a packet to `way` would leave from."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((way, 9))
        except OSError:
            return ""
        return str(probe.getsockname()[0])


def _reachable(address: str) -> bool:
    asked = ipaddress.IPv4Address(address)
    return not (asked.is_loopback or asked.is_global or asked.is_unspecified)
