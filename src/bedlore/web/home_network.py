"""How this machine is called and reached in the home network, and a free port to listen on."""

from __future__ import annotations

import contextlib
import errno
import re
import socket
from dataclasses import dataclass
from ipaddress import ip_address

from bedlore.errors import KeeperError

MOST_PORTS_TRIED = 20
# Asking which way a packet would leave sends none. Private ranges (RFC 1918) and one outside
# (RFC 5737), so that a network without a way out is found too.
_PROBES = ("192.168.255.254", "10.255.255.254", "172.31.255.254", "198.51.100.1")
_HOST = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*")


@dataclass(frozen=True)
class Reach:
    """Addresses (IPv4) and host names by which others in the home network find this machine."""

    addresses: tuple[str, ...]
    names: tuple[str, ...]

    @property
    def all(self) -> tuple[str, ...]:
        """Every name and address."""
        return (*self.names, *self.addresses)

    @property
    def best(self) -> str:
        """What to show first: an address, which needs no help of the router."""
        return self.all_or_here[0]

    @property
    def all_or_here(self) -> tuple[str, ...]:
        """Addresses, then names; this machine itself when it is in no network."""
        return (*self.addresses, *self.names) or ("127.0.0.1",)


def reach() -> Reach:
    """How this machine is reached now."""
    own = socket.gethostname().lower()
    short = own.split(".")[0]
    names = [name for name in (f"{short}.local", own, short) if _HOST.fullmatch(name)]
    names = [name for name in names if name not in ("localhost", "localhost.local")]
    found = [address for probe in _PROBES if (address := _leaving_for(probe))]
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(own, None, socket.AF_INET)]
    useful = [a for a in found if not (ip_address(a).is_loopback or ip_address(a).is_unspecified)]
    return Reach(tuple(dict.fromkeys(useful)), tuple(dict.fromkeys(names)))


def _leaving_for(probe: str) -> str:
    """The address that packets to ``probe`` would come from, "" when there is no way."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect((probe, 9))
            return str(asking.getsockname()[0])
        except OSError:
            return ""


def is_own(host: str) -> bool:
    """Whether nobody but this machine itself can reach what listens on ``host``."""
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host == "localhost"


def free_port(host: str, wanted: int) -> int:
    """``wanted``, or the next port on ``host`` that nobody listens on.

    Raises :class:`KeeperError` when there is none near, or when ``host`` is not this machine's.
    """
    for port in range(wanted, min(wanted + MOST_PORTS_TRIED, 65536)):
        trouble = _trouble_listening(host, port)
        if trouble is None:
            return port
        if trouble.errno != errno.EADDRINUSE:
            raise KeeperError(f"Nothing can listen on {host}, port {port} ({trouble.strerror}).",
                              "--host", "Choose an address of this machine, and a port above"
                              " 1023.") from None  # fmt: skip
    raise KeeperError(f"Port {wanted} is taken, and so are the next ones.", "--port",
                      "Choose another.")  # fmt: skip


def _trouble_listening(host: str, port: int) -> OSError | None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        # As the server does it: a port that was just left counts as free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
            probe.listen(1)
        except OSError as problem:  # a name that is none is among them (socket.gaierror)
            return problem
    return None
