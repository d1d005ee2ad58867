"""The addresses a server listens on, and what people type to reach it."""

from __future__ import annotations

import errno
import socket
from dataclasses import dataclass

_THIS_PC = "127.0.0.1"
_EVERYWHERE = {"0.0.0.0", "::"}


class AddressError(ValueError):
    """An address that cannot be served. The message says what to do instead."""


@dataclass(frozen=True)
class Address:
    """Where to listen. `0.0.0.0` stands for every network the machine is on."""

    host: str
    port: int

    def __str__(self) -> str:
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"

    @property
    def is_everywhere(self) -> bool:
        return self.host in _EVERYWHERE


def read_address(text: str) -> Address:
    """Read `127.0.0.1:8000`, `0.0.0.0:8000`, `[::]:8000` or a port alone."""
    host, colon, port = text.strip().rpartition(":")
    if not colon:
        host = _THIS_PC
    if not port.isascii() or not port.isdigit() or int(port) > 65535:
        raise AddressError(f"'{text}' is not an address. Write it like 127.0.0.1:8000.")
    return Address(host.strip("[]") or _THIS_PC, int(port))


def listen(address: Address) -> socket.socket:
    """A socket that listens there. Raises `AddressError` where that cannot be."""
    family = socket.AF_INET6 if ":" in address.host else socket.AF_INET
    opened = socket.socket(family, socket.SOCK_STREAM)
    opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        opened.bind((address.host, address.port))
        opened.listen(64)
    except OSError as error:
        opened.close()
        if error.errno == errno.EADDRINUSE:
            another = Address(address.host, address.port % 65535 + 1)
            raise AddressError(
                f"Something listens at {address} already, perhaps brewlog itself. Stop that, or "
                f"take another place: --address {another}"
            ) from None
        raise AddressError(f"{address} cannot be used: {error.strerror}.") from None
    return opened


def names_of_this_machine() -> list[str]:
    """What others on the same network may call this machine: its address and its name."""
    names = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Sends nothing: it asks which of our addresses faces the network.
            probe.connect(("192.0.2.1", 9))
            names.append(probe.getsockname()[0])
        except OSError:
            pass  # no network: the name may still do
    name = socket.gethostname().lower()
    return [*names, name, *([] if "." in name else [f"{name}.local"])]
