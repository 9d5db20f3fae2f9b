"""What `manage.py open_network` says when the network cannot be served: one sentence, and a status that is not 0."""
import pytest
from django.core.management import CommandError, call_command

from studio.network.addresses import Network
from tests.network.running import free_ports


@pytest.fixture
def network(settings, tmp_path):
    settings.NETWORK = Network(free_ports(), tmp_path / "network", "127.0.0.1")
    return settings.NETWORK


def sentence() -> str:
    with pytest.raises(CommandError) as stopped:
        call_command("open_network")
    assert "\n" not in str(stopped.value)
    return str(stopped.value)


def test_run_twice_it_changes_nothing(network):
    call_command("open_network")
    before = {path.name: path.read_bytes() for path in network.folder.iterdir()}
    call_command("open_network")
    assert {path.name: path.read_bytes() for path in network.folder.iterdir()} == before
    assert set(before) == {"authority.pem", "server.pem"}


def test_a_broken_authority_is_named(network):
    call_command("open_network")
    (network.folder / "authority.pem").write_text("nonsense")
    assert "authority.pem does not hold a key" in sentence()


def test_an_address_of_another_computer_is_named(settings, tmp_path):
    settings.NETWORK = Network(8443, tmp_path, "203.0.113.77")
    assert sentence().startswith("Port 8443 of 203.0.113.77 cannot be used: ")


def test_a_folder_that_is_none_is_named(settings, tmp_path):
    (tmp_path / "network").write_text("a file")
    settings.NETWORK = Network(free_ports(), tmp_path / "network", "127.0.0.1")
    assert "network" in sentence()


def test_without_a_network_there_is_nothing_to_open(settings):
    assert "does not name a port" in sentence()
