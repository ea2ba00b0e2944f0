"""Bound: a socket that listens at one address and port of this computer."""

import os
import socket


def bound(host: str, port: int) -> socket.socket | None:
    """Return a listening socket; None where the port is taken or the address is none of this computer.

    Parameters
    ----------
    host : str
        One address.
    port : int
        0: any free one.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # Named TCP, so that it sends at once: else the end of an answer waits 40 ms until its start is acknowledged.
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if os.name == "posix":  # at once again after an end by force; elsewhere the option means something else
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
        listening.listen()  # from here on a browser that comes early waits instead of failing
    except OSError:
        listening.close()
        return None
    return listening
