"""Where this computer is found on the studio's network, and under which names; knows no Django and no certificate."""
import ipaddress
import re
import socket
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

Address = ipaddress.IPv4Address | ipaddress.IPv6Address

# Addresses that the internet does not pass on and a computer can have for its own, from IANA's registries of
# special-purpose addresses (RFC 6890). Risebook is served on these only, and its authority vouches for no other.
RANGES = tuple(map(ipaddress.ip_network, (
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16",  # private networks, RFC 1918
    "100.64.0.0/10",  # behind a provider's own router, RFC 6598
    "169.254.0.0/16",  # no router at all, RFC 3927
    "127.0.0.0/8", "::1/128",  # this computer itself
    "192.0.2.0/24", "198.18.0.0/15", "198.51.100.0/24", "203.0.113.0/24",  # networks for trying, RFC 5737 and 2544
    "fc00::/7",  # private networks, RFC 4193
)))
# ".local" is never looked up outside the network at hand (RFC 6762), "localhost" never outside the computer (RFC 6761).
DOMAINS = ("local", "localhost")
LOOPBACK = ("localhost", "127.0.0.1", "::1")

# Any address beyond the router will do to ask which of its own addresses this computer would speak from. For IPv6 a
# private one, because its like is preferred as the source (RFC 6724, rule 6), and a public one is not served.
BEYOND_THE_ROUTER = ((socket.AF_INET, "198.51.100.1"), (socket.AF_INET6, "fdff:ffff:ffff::1"))


class NetworkProblem(Exception):
    """Why the studio's network cannot be served, in one sentence for a person."""


def source_address(family: socket.AddressFamily, towards: str) -> Address | None:
    """The address that this computer would speak from; nothing is sent. None without a way there."""
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((towards, 9))
            return ipaddress.ip_address(probe.getsockname()[0])
    except OSError:
        return None


def is_served(address: Address) -> bool:
    """Whether Risebook may be served there.

    >>> is_served(ipaddress.ip_address("192.168.1.20")), is_served(ipaddress.ip_address("8.8.8.8"))
    (True, False)
    """
    return any(address in each for each in RANGES)


def local_name(host_name: str) -> str | None:
    """The name by which a computer is called on its own network; None where its name is no such name.

    >>> local_name("Studio-PC.example.org"), local_name("studio pc")
    ('studio-pc.local', None)
    """
    label = host_name.split(".")[0].lower()
    is_label = re.fullmatch(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", label)
    return f"{label}.local" if is_label and label != "localhost" else None


@dataclass(frozen=True)
class Network:
    """What `./risebook run --network` was asked for: the HTTPS port, one address or whichever there are, a folder."""

    port: int
    folder: Path
    address: str = ""

    @property
    def door_port(self) -> int:
        """The port of plain http, where a tablet learns to trust."""
        return self.port + 1

    def addresses(self) -> list[Address]:
        """This computer's addresses as they are now, IPv4 first; empty while there is no network."""
        if self.address:
            return [ipaddress.ip_address(self.address)]
        found = (source_address(*each) for each in BEYOND_THE_ROUTER)
        return [each for each in found if each is not None and is_served(each) and not each.is_loopback]

    def names(self) -> list[str]:
        """Everything this computer is called now: its addresses, its name, and what it calls itself."""
        own = [str(each) for each in self.addresses()]
        name = local_name(socket.gethostname())
        return list(dict.fromkeys([*own, *([name] if name else []), *LOOPBACK]))

    def is_reached_at(self, address: str) -> bool:
        """Whether a connection that came in at this address came from where Risebook is served."""
        at = ipaddress.ip_address(address)
        at = getattr(at, "ipv4_mapped", None) or at
        return at.is_loopback or at in self.addresses()

    def bindings(self) -> list[str]:
        """What the server listens on. Everywhere, without a given address: it may change while the server runs."""
        everywhere = "::" if _ipv6_takes_ipv4_in() else "0.0.0.0"  # noqa: S104  (who comes from elsewhere is turned away)
        host = in_address(self.address or everywhere)
        return [f"{host}:{self.port}", f"{host}:{self.door_port}"]

    def studio_address(self) -> str:
        return f"https://{in_address(self.names()[0])}:{self.port}/"

    def door_address(self) -> str:
        return f"http://{in_address(self.names()[0])}:{self.door_port}/"


class NamesOfNow(list):
    """Host names in which a network's are always the present ones; for Django's list of allowed hosts."""

    def __init__(self, network: Network, others: list[str]) -> None:
        super().__init__(others)
        self.network = network

    def __iter__(self) -> Iterator[str]:
        yield from super().__iter__()
        yield from map(in_address, self.network.names())


def in_address(host: str) -> str:
    """A host as it is written in a web address.

    >>> in_address("192.168.1.20"), in_address("fd00::2"), in_address("studio.local")
    ('192.168.1.20', '[fd00::2]', 'studio.local')
    """
    return f"[{host}]" if ":" in host else host


def check_given_address(text: str) -> None:
    """Raises NetworkProblem for an address that Risebook is not served on."""
    try:
        address = ipaddress.ip_address(text)
    except ValueError:
        raise NetworkProblem(f'"{text}" is no address of a computer; one looks like 192.168.1.20.') from None
    if not is_served(address):
        raise NetworkProblem(
            f"{text} is not an address of a private network, and children's health data belongs on no other; "
            "to be reached from further away, put a web server with a certificate of its own in front."
        )


def check_listening(network: Network) -> None:
    """Raises NetworkProblem where the server would not come to listen."""
    if network.address:
        check_given_address(network.address)
    elif not network.addresses():
        raise NetworkProblem(
            "This computer has no address on a private network; join the studio's network first, "
            "or say which address to use with --address."
        )
    for binding in network.bindings():
        host, _, port = binding.rpartition(":")
        _try_to_listen(host.strip("[]"), int(port))


def _try_to_listen(host: str, port: int) -> None:
    try:
        with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind((host, port))
            trial.listen()
    except PermissionError:
        raise NetworkProblem(f"Only the administrator of this computer may use port {port}.") from None
    except OSError as why:
        raise NetworkProblem(f"Port {port} of {host} cannot be used: {why.strerror}.") from None


def _ipv6_takes_ipv4_in() -> bool:
    try:
        with socket.socket(socket.AF_INET6, socket.SOCK_STREAM) as trial:
            trial.bind(("::", 0))
            return not trial.getsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY)
    except OSError:
        return False
