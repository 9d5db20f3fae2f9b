"""`./risebook install` puts the studio into the computer's start with no more rights than it needs."""
import os
import pwd
import shutil
import subprocess
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from studio.management.commands import install
from studio.upkeep import backing_up
from studio.upkeep.databases import SqliteFile
from studio.upkeep.home import Home
from studio.upkeep.units import Installed
from tests.upkeep.test_damage import small_database

ME = pwd.getpwuid(os.getuid()).pw_name


def installed(tmp_path, **more):
    code = tmp_path / "my studio 50%"
    for name in ("python", "gunicorn"):
        (code / ".venv/bin").mkdir(parents=True, exist_ok=True)
        (code / ".venv/bin" / name).symlink_to("/bin/true")
    return Installed(code=code, var=code / "var", user=ME, port=8000, **more)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="this computer has no systemd")
@pytest.mark.parametrize("more", [
    {}, {"is_on_network": True, "address": "192.168.1.20"}, {"backups": Path("/media/a stick")},
])
def test_systemd_itself_finds_nothing_to_complain_of(tmp_path, more):
    folder = tmp_path / "units"
    folder.mkdir()
    for name, text in installed(tmp_path, **more).units().items():
        (folder / name).write_text(text)
    said = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *sorted(folder.iterdir())], capture_output=True, text=True,
        env=os.environ | {"SYSTEMD_UNIT_PATH": f"{folder}:"},
    )
    ours = [line for line in said.stderr.splitlines() if "risebook" in line]
    assert ours == []


def test_only_the_studios_own_folder_can_be_written_and_no_right_can_be_gained(tmp_path):
    for name, text in installed(tmp_path, backups=Path("/media/stick")).units().items():
        if name.endswith(".service"):
            assert "ProtectSystem=strict\n" in text and "NoNewPrivileges=yes\n" in text, name
            assert f"User={ME}\n" in text
            [written] = [line for line in text.splitlines() if line.startswith("ReadWritePaths=")]
            assert written == f'ReadWritePaths="{tmp_path}/my studio 50%%/var" "/media/stick"'


def test_what_dies_comes_back_however_often(tmp_path):
    units = installed(tmp_path).units()
    for name in ("risebook.service", "risebook-work.service"):
        assert "Restart=always\n" in units[name] and "StartLimitIntervalSec=0\n" in units[name]


def test_a_night_that_the_computer_was_off_is_made_up_for(tmp_path):
    units = installed(tmp_path).units()
    assert "OnCalendar=*-*-* 03:15:00\n" in units["risebook-backup.timer"]
    assert all("Persistent=true\n" in text for name, text in units.items() if name.endswith(".timer"))
    assert "manage.py backup\n" in units["risebook-backup.service"]
    assert "manage.py send_digest\n" in units["risebook-mail.service"]


def test_nothing_is_served_before_the_database_was_looked_at(tmp_path):
    steps = [line for line in installed(tmp_path, is_on_network=True).units()["risebook.service"].splitlines()
             if line.startswith("Exec")]
    assert [step.rpartition("manage.py ")[2].split()[0] for step in steps[:-1]] == [
        "ready_to_serve", "open_network", "migrate", "collectstatic", "first_start"]
    assert steps[-1].startswith("ExecStart=/usr/bin/flock --no-fork --nonblock")
    assert steps[-1].endswith("gunicorn\" studio.wsgi")


@pytest.fixture
def computer(monkeypatch, tmp_path):
    """A computer with systemd on which we are root; what is run on it is noted and not done."""
    ran, var = [], tmp_path / "var"
    small_database(var / "risebook.sqlite3")
    here = Home(var, SqliteFile(var / "risebook.sqlite3"), "s" * 60)
    for name, folder in (("UNITS", tmp_path / "units"), ("SYSTEMD", tmp_path / "systemd")):
        folder.mkdir()
        monkeypatch.setattr(install, name, folder)
    monkeypatch.setattr(install, "home", lambda: here)
    monkeypatch.setattr(install.os, "geteuid", lambda: 0)
    monkeypatch.setattr(install, "run", lambda *words: ran.append(words))
    monkeypatch.setattr(install, "user_for", lambda code: ME)
    monkeypatch.setattr(install.settings, "VAR_DIR", var)
    return here, ran, tmp_path / "units"


def test_it_is_enabled_and_the_passphrase_shown_once(computer, capsys):
    here, ran, units = computer
    call_command("install")
    assert ran == [("systemctl", "daemon-reload"), ("systemctl", "enable", "--now", "risebook.service",
                    "risebook-work.service", "risebook-backup.timer", "risebook-mail.timer")]
    assert sorted(path.name for path in units.iterdir()) == [
        "risebook-backup.service", "risebook-backup.timer", "risebook-mail.service", "risebook-mail.timer",
        "risebook-work.service", "risebook.service"]
    assert "shown this once" in capsys.readouterr().out
    assert backing_up.has_key(here)
    assert here.var.stat().st_mode & 0o077 == 0
    call_command("install", "--network")
    assert "shown this once" not in capsys.readouterr().out
    assert "RISEBOOK_NETWORK=8443" in (units / "risebook.service").read_text()


def test_taken_away_again_the_studio_stays(computer, capsys):
    here, ran, units = computer
    call_command("install")
    (units / "another.service").touch()
    call_command("install", "--remove")
    assert ran[-2:] == [("systemctl", "disable", "--now", "risebook.service", "risebook-work.service",
                         "risebook-backup.timer", "risebook-mail.timer"), ("systemctl", "daemon-reload")]
    assert [path.name for path in units.iterdir()] == ["another.service"]
    assert here.database.path.exists()


@pytest.mark.parametrize("prepare, sentence", [
    (lambda monkeypatch, here: here.database.path.unlink(), "Start Risebook once first"),
    (lambda monkeypatch, here: monkeypatch.setattr(install, "is_held", lambda lock: True), "Stop it first"),
    (lambda monkeypatch, here: monkeypatch.setattr(install.os, "geteuid", lambda: 1000), "sudo ./risebook install"),
    (lambda monkeypatch, here: monkeypatch.setattr(install, "SYSTEMD", Path("/not/there")), "bash risebook backup"),
])
def test_where_it_cannot_be_done_it_says_what_to_do_and_changes_nothing(computer, monkeypatch, prepare, sentence):
    here, ran, units = computer
    prepare(monkeypatch, here)
    with pytest.raises(CommandError, match=sentence):
        call_command("install")
    assert ran == [] and list(units.iterdir()) == []


def test_in_a_closed_home_it_runs_as_the_person_the_folder_belongs_to(tmp_path):
    tmp_path.chmod(0o700)
    assert install.user_for(tmp_path) == ME
    assert install.user_for(Path("/usr/bin")) == "risebook"
