"""Sees connections, and questions for an address, of this process; refuses those that leave.

Python tells its audit hooks of them (its manual's table of audit events, from memory). A hook stays
until the process ends; forked children have it too, other programs do not.
"""

import ipaddress
import sys
from typing import Any

LOOKS_UP = {"socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr"}
REACHES = {"socket.connect", "socket.sendto", "socket.sendmsg"}
"""`socket.connect` comes from connect_ex too."""

tried: list[str] = []  # what was refused since somebody emptied the list


class WayOut(RuntimeError):
    """Something here tried to reach another machine."""


def stays_here(host: object) -> bool:
    """Whether a host, as sockets take it, is this machine (None: to listen)."""
    if host is None:
        return True
    name = host.decode("ascii", "replace") if isinstance(host, bytes | bytearray) else str(host)
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name.partition("%")[0]).is_loopback
    except ValueError:
        return False


def watch(event: str, details: tuple[Any, ...]) -> None:
    """The hook: notes and refuses what leaves; the note stays when somebody catches the refusal."""
    if event in LOOKS_UP:
        host = details[0]
    elif event in REACHES:
        address = details[1]
        # A path (AF_UNIX) is no tuple, a connected socket's message has no address.
        if not isinstance(address, tuple):
            return
        host = address[0]
    else:
        return
    if not stays_here(host):
        tried.append(f"{event} {host!r}")
        raise WayOut(tried[-1])


def keep_watch() -> None:
    """Watch until this process ends."""
    sys.addaudithook(watch)
