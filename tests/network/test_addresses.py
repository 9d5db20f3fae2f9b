"""Where Risebook is found on a network, and what it refuses to be found at."""
import ipaddress
import socket

import pytest
from django.http.request import validate_host

from studio.network import addresses
from studio.network.addresses import RANGES, NamesOfNow, Network, NetworkProblem, check_listening, is_served

PRIVATE = ["10.0.0.7", "172.31.255.1", "192.168.1.20", "100.64.3.3", "169.254.9.9", "127.0.0.1", "::1", "fd00::2"]
PUBLIC = ["8.8.8.8", "172.32.0.1", "192.169.0.1", "100.128.0.1", "2001:4860:4860::8888", "2a00:1450::5"]
# Neither reached from the internet nor usable in an address bar without a zone.
NEITHER = ["fe80::1", "224.0.0.1", "ff02::1", "::", "255.255.255.255"]


@pytest.fixture
def here(monkeypatch):
    """Says what the computer's addresses are."""
    def say(ipv4=None, ipv6=None):
        found = {socket.AF_INET: ipv4, socket.AF_INET6: ipv6}
        monkeypatch.setattr(addresses, "source_address", lambda family, towards: found[family] and
                            ipaddress.ip_address(found[family]))
        monkeypatch.setattr(socket, "gethostname", lambda: "Studio-PC.example")

    return say


@pytest.fixture
def network(tmp_path):
    return Network(8443, tmp_path)


@pytest.mark.parametrize("text, served", [
    *((text, True) for text in PRIVATE), *((text, False) for text in PUBLIC + NEITHER),
])
def test_only_addresses_of_private_networks_are_served(text, served):
    assert is_served(ipaddress.ip_address(text)) is served


def test_nothing_that_is_served_can_be_reached_from_the_internet():
    """By the standard library's copy of IANA's registries of special-purpose addresses."""
    assert [str(each) for each in RANGES if each.is_global] == []


def test_the_address_is_the_one_this_computer_speaks_from():
    """To itself it speaks from itself; the kernel is asked, nothing is sent."""
    assert addresses.source_address(socket.AF_INET, "127.0.0.1") == ipaddress.ip_address("127.0.0.1")


def test_without_a_way_out_there_is_no_address(monkeypatch):
    def unreachable(*_):
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(addresses.socket, "socket", unreachable)
    assert addresses.source_address(socket.AF_INET, "198.51.100.1") is None


def test_a_computer_is_called_by_its_addresses_and_its_name(here, network):
    here("192.168.1.20", "fd00::2")
    assert network.names() == ["192.168.1.20", "fd00::2", "studio-pc.local", "localhost", "127.0.0.1", "::1"]
    assert (network.studio_address(), network.door_address()) == (
        "https://192.168.1.20:8443/", "http://192.168.1.20:8444/"
    )


def test_an_address_that_the_internet_reaches_is_never_a_name(here, network):
    here("8.8.8.8", "2a00:1450::5")
    assert network.addresses() == []
    here("192.168.1.20", "2a00:1450::5")
    assert [str(each) for each in network.addresses()] == ["192.168.1.20"]


def test_an_ipv6_address_stands_in_brackets(here, network):
    here(ipv6="fd00::2")
    assert network.studio_address() == "https://[fd00::2]:8443/"


@pytest.mark.parametrize("host_name, name", [
    ("studio", "studio.local"), ("Mac.local", "mac.local"), ("PC-7.lan.example", "pc-7.local"), ("studio pc", None),
    ("", None), ("-x", None), ("a" * 64, None), ("localhost", None), ("ball\u00e9t", None),
])
def test_only_a_name_that_can_be_looked_up_is_one(host_name, name):
    assert addresses.local_name(host_name) == name


@pytest.mark.parametrize("came_to, welcome", [
    ("192.168.1.20", True), ("::ffff:192.168.1.20", True), ("fd00::2", True), ("127.0.0.1", True), ("::1", True),
    ("::ffff:127.0.0.1", True), ("192.168.1.21", False), ("::ffff:10.0.0.1", False), ("2a00:1450::5", False),
])
def test_a_connection_is_taken_where_risebook_is_served_and_nowhere_else(here, network, came_to, welcome):
    here("192.168.1.20", "fd00::2")
    assert network.is_reached_at(came_to) is welcome


def test_hosts_are_allowed_as_the_computer_is_called_at_that_moment(here, network):
    """Asked of Django's own check."""
    allowed = NamesOfNow(network, ["studio.example"])
    for mine, other in (("192.168.1.20", "10.0.0.5"), ("10.0.0.5", "192.168.1.20")):
        here(mine, "fd00::2")
        assert [validate_host(host, allowed) for host in (mine, "[fd00::2]", "studio-pc.local", "studio.example")] == \
            [True] * 4
        assert not validate_host(other, allowed)
        assert not validate_host("evil.example", allowed)


# --- what stops the start ------------------------------------------------------------------------


def problem_of(network) -> str:
    with pytest.raises(NetworkProblem) as stopped:
        check_listening(network)
    return str(stopped.value)


def test_without_a_private_address_the_start_says_what_to_do(here, network):
    here()
    assert "no address on a private network" in problem_of(network)
    here("8.8.8.8")
    assert "--address" in problem_of(network)


@pytest.mark.parametrize("address, complaint", [
    ("nonsense", '"nonsense" is no address of a computer'), ("8.8.8.8", "not an address of a private network"),
    ("::", "not an address of a private network"), ("203.0.113.77", "cannot be used: "),
])
def test_an_address_that_cannot_be_served_is_named(tmp_path, address, complaint):
    said = problem_of(Network(8443, tmp_path, address))
    assert complaint in said
    assert "\n" not in said


@pytest.mark.parametrize("which", [0, 1])
def test_a_port_that_is_taken_is_named_whichever_of_the_two_it_is(tmp_path, which):
    with socket.create_server(("127.0.0.1", 0)) as other:
        taken = other.getsockname()[1]
        said = problem_of(Network(taken - which, tmp_path, "127.0.0.1"))
    assert said == f"Port {taken} of 127.0.0.1 cannot be used: Address already in use."
