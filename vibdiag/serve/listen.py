"""From a host name and a port to a listening socket and the one address to open."""

from __future__ import annotations

import errno
import ipaddress
import socket
from dataclasses import dataclass
from typing import Any

from vibdiag.files.errors import InputError

__all__ = ["Place", "address_to_open", "listen", "resolve"]


@dataclass(frozen=True)
class Place:
    """Where to listen: a resolved address, and whether only this machine can reach it."""

    host: str
    family: socket.AddressFamily
    address: Any
    loopback: bool


def resolve(host: str, port: int) -> Place:
    """Resolve once, so that what is judged as loopback is what is bound. Raises InputError for a host that is none."""
    try:
        found = socket.getaddrinfo(host.strip(), port, type=socket.SOCK_STREAM) if host.strip() else []
    except (socket.gaierror, UnicodeError):
        found = []
    if not found:
        raise InputError(
            f"'{host}' is no address or name of this machine, such as 127.0.0.1 or 0.0.0.0", field="--host"
        )
    family, _, _, _, address = found[0]
    numeric = ipaddress.ip_address(str(address[0]).split("%")[0])
    return Place(host.strip(), family, address, numeric.is_loopback)


def listen(place: Place) -> socket.socket:
    """A listening socket; port 0 takes a free one. Raises InputError with what to do instead."""
    port = place.address[1]
    server = socket.socket(place.family, socket.SOCK_STREAM)
    try:
        server.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if place.family == socket.AF_INET6:
            server.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        server.bind(place.address)
        server.listen(128)
    except OSError as error:
        server.close()
        if error.errno == errno.EADDRINUSE:
            message, field = f"{port} is taken by another program; choose another, or 0 for any free one", "--port"
        elif error.errno == errno.EACCES:
            message, field = f"{port} is reserved for the system; choose one from 1024 on", "--port"
        elif error.errno == errno.EADDRNOTAVAIL:
            message, field = f"'{place.host}' is not an address of this machine", "--host"
        else:
            message, field = f"cannot listen at '{place.host}': {error.strerror or error}", "--host"
        raise InputError(message, field=field) from error
    return server


def address_to_open(place: Place, port: int) -> str:
    """What to type into a browser."""
    numeric = ipaddress.ip_address(str(place.address[0]).split("%")[0])
    if numeric.is_unspecified:
        return f"http://{_own_address(place.family)}:{port}/"
    shown = f"[{numeric}]" if numeric.version == 6 else str(numeric)
    return f"http://{shown}:{port}/"


def _own_address(family: socket.AddressFamily) -> str:
    """The address others reach this machine by: that of the way out. Connecting a datagram socket sends nothing.

    The far ends are the documentation networks of RFC 5737 and RFC 3849.
    """
    far = ("192.0.2.1", 9) if family == socket.AF_INET else ("2001:db8::1", 9)
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect(far)
            own = str(probe.getsockname()[0])
    except OSError:
        return socket.gethostname()
    return own if family == socket.AF_INET else f"[{own}]"
