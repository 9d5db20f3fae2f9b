"""Whether `./risebook` says plainly what is wrong and pins what it installs; knows nothing of the app."""
import os
import re
import shutil
import socket
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from tests.network.running import free_ports

CHECKOUT = Path(__file__).resolve().parents[1]
LOCKS = ["requirements.txt", "tests/requirements.txt"]


@pytest.fixture
def checkout(tmp_path):
    """A folder with the script alone, and bin/ in it for programs that stand in for the computer's own."""
    shutil.copy(CHECKOUT / "risebook", tmp_path)
    (tmp_path / "bin").mkdir()
    return tmp_path


def stand_in(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("#!/bin/sh\n" + text)
    path.chmod(0o755)


def started(checkout, *words, **environment):
    return subprocess.run(
        ["bash", checkout / "risebook", *words],
        env={"PATH": f"{checkout}/bin:{os.environ['PATH']}", "HOME": str(checkout), **environment},
        capture_output=True, text=True, timeout=60, stdin=subprocess.DEVNULL,
    )


def free_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


@pytest.mark.parametrize("words, complaint", [
    ((), "Please say what to do."),
    (("dance",), 'There is no "dance".'),
    (("run", "--fast"), 'does not know "--fast"'),
    (("test", "studio"), 'does not know "studio"'),
    (("run", "--port"), "The port must be a number"),
    (("run", "--port", "70000"), "The port must be a number"),
    (("run", "--port=ten"), "The port must be a number"),
    (("run", "--port="), "The port must be a number"),
    (("run", "--network", "--port", "65535"), "The port must be a number from 1 to 65534."),
    (("run", "--address", "192.168.1.20"), "--address goes with --network."),
])
def test_a_word_it_does_not_know_is_named_and_the_usage_shown(checkout, words, complaint):
    answer = started(checkout, *words)
    assert answer.returncode == 2
    assert complaint in answer.stderr
    assert "./risebook run [--port N]" in answer.stderr


def test_a_port_in_use_is_said_before_anything_is_made(checkout):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        answer = started(checkout, "run", "--port", str(port))
    assert answer.returncode == 1
    assert f"Something already listens on port {port}" in answer.stderr
    assert not (checkout / "var").exists()


@pytest.mark.parametrize("which", [0, 1])
def test_for_the_network_both_ports_are_looked_at(checkout, which):
    first = free_ports()
    port = first + which
    with socket.create_server(("127.0.0.1", port)):
        answer = started(checkout, "run", "--network", "--port", str(first))
    assert answer.returncode == 1
    assert f"Something already listens on port {port}." in answer.stderr
    assert f"./risebook run --network --port {first + 2}" in answer.stderr
    assert not (checkout / "var").exists()


def test_an_old_python_is_refused_by_its_version(checkout):
    for name in ("python3", "python3.11", "python3.12", "python3.13", "python3.14"):
        stand_in(checkout / "bin" / name, f"""[ "$1" = --version ] && echo Python 3.10.14 && exit
            exec {sys.executable} -c 'import sys; sys.version_info = (3, 10, 14); exec(sys.argv[2])' "$@" """)
    answer = started(checkout, "run", "--port", str(free_port()))
    assert answer.returncode == 1
    assert answer.stderr.strip() == "Risebook needs Python 3.11 or newer; this computer has Python 3.10.14."


def test_without_root_the_missing_packages_come_as_one_line_to_paste(checkout):
    stand_in(checkout / "bin/python3", f'case "$*" in *pango*) exit 1;; *) exec {sys.executable} "$@";; esac')
    stand_in(checkout / "bin/id", "echo 1000")
    stand_in(checkout / "bin/sudo", "exit 1")
    stand_in(checkout / "bin/apt-get", f"touch {checkout}/was-asked")
    answer = started(checkout, "run", "--port", str(free_port()))
    assert answer.returncode == 1
    [line] = [line for line in answer.stderr.splitlines() if "apt-get" in line]
    assert line.startswith("  sudo apt-get update && sudo apt-get install -y ")
    assert "libpango-1.0-0 libpangoft2-1.0-0" in line
    assert not (checkout / "was-asked").exists()


@pytest.fixture
def installed(checkout):
    """A checkout whose Python is a stand-in: it notes each command, and fails where a test wants it to."""
    shutil.copy(CHECKOUT / "requirements.txt", checkout)

    def python(fails=""):
        (checkout / "static").mkdir(exist_ok=True)
        (checkout / "studio").mkdir(exist_ok=True)
        (checkout / "studio/settings.py").touch()
        stand_in(checkout / ".venv/bin/python", f'{fails}\n[ "$1" = -c ] && exit 0\n'
                 'echo "$2 ${RISEBOOK_NETWORK:-none} ${RISEBOOK_ADDRESS:-any}" >>asked')
        stand_in(checkout / ".venv/bin/gunicorn", 'echo "gunicorn $* ${RISEBOOK_NETWORK:-none}" >>asked')
        stamp = subprocess.run(["cksum", "requirements.txt"], cwd=checkout, capture_output=True, check=True)
        (checkout / ".venv/installed-locks").write_bytes(stamp.stdout)
        return checkout

    return python


def served(asked: list[str]) -> list[str]:
    """How the web server was started; what prints beside it may be noted before or after."""
    return [line for line in asked if line.startswith("gunicorn")]


def test_the_network_is_made_ready_before_anything_is_served_on_it(installed):
    checkout, port = installed(), free_ports()
    answer = started(checkout, "run", "--network", "--port", str(port), "--address", "127.0.0.1")
    asked = (checkout / "asked").read_text().splitlines()
    assert answer.returncode == 0, answer.stderr
    assert "3/6 Network ... ready" in answer.stdout
    assert asked[0] == f"open_network {port} 127.0.0.1"
    assert served(asked) == [f"gunicorn studio.wsgi {port}"]


def test_without_the_word_it_answers_on_this_computer_alone(installed):
    checkout, port = installed(), free_port()
    started(checkout, "run", "--port", str(port))
    asked = (checkout / "asked").read_text().splitlines()
    assert "open_network" not in " ".join(asked)
    assert served(asked) == [f"gunicorn --bind 127.0.0.1:{port} studio.wsgi none"]


@pytest.mark.parametrize("word", ["yes", " True ", "1"])
def test_behind_a_web_server_that_speaks_https_the_network_steps_aside(installed, word):
    checkout, port = installed(), free_port()
    answer = started(checkout, "run", "--network", "--port", str(port), RISEBOOK_TLS=word, RISEBOOK_HOSTS="a.example")
    assert "speaks HTTPS already (RISEBOOK_TLS), so --network is left out." in answer.stdout
    asked = (checkout / "asked").read_text().splitlines()
    assert served(asked) == [f"gunicorn --bind 127.0.0.1:{port} studio.wsgi none"]


def test_a_network_that_cannot_be_served_ends_the_start_with_its_one_sentence(installed):
    checkout = installed('[ "$2" = open_network ] && echo "CommandError: The key is broken." >&2 && exit 1')
    answer = started(checkout, "run", "--network", "--port", str(free_ports()))
    assert (answer.returncode, answer.stderr.strip()) == (1, "The key is broken.")
    assert not (checkout / "asked").exists()


def test_a_step_that_fails_gives_its_last_line_and_no_stack_trace(checkout):
    shutil.copy(CHECKOUT / "requirements.txt", checkout)
    stand_in(checkout / ".venv/bin/python", """case "$*" in *migrate*)
        printf 'Traceback (most recent call last):\\n  File x\\nOperationalError: disk is full\\n'; exit 1;;
    esac""")
    stamp = subprocess.run(["cksum", "requirements.txt"], cwd=checkout, capture_output=True, check=True)
    (checkout / ".venv/installed-locks").write_bytes(stamp.stdout)
    answer = started(checkout, "run", "--port", str(free_port()))
    assert answer.returncode == 1
    assert "The database could not be brought up to date." in answer.stderr
    assert "It said: OperationalError: disk is full\n" in answer.stderr
    assert "Traceback" not in answer.stdout + answer.stderr
    assert "Traceback" in (checkout / "var/set-up.log").read_text()


def test_what_it_keeps_is_closed_to_other_people(checkout):
    stand_in(checkout / ".venv/bin/python", "exit 1")
    shutil.copy(CHECKOUT / "requirements.txt", checkout)
    stand_in(checkout / "bin/uv", "echo no network; exit 1")
    answer = started(checkout, "run", "--port", str(free_port()))
    assert "It said: no network" in answer.stderr
    assert (checkout / "var").stat().st_mode & 0o077 == 0


def test_the_continuous_check_is_the_test_a_person_runs(checkout):
    stand_in(checkout / "risebook", 'echo "$@"; exit 3')
    (checkout / ".ci").mkdir()
    shutil.copy(CHECKOUT / ".ci/run", checkout / ".ci")
    answer = subprocess.run(["bash", ".ci/run"], cwd=checkout, capture_output=True, text=True)
    assert (answer.stdout, answer.returncode) == ("test\n", 3)


def test_it_says_how_long_each_check_took_and_all_of_it(installed):
    checkout = installed()
    (checkout / "tests").mkdir()
    (checkout / "templates").mkdir()
    shutil.copy(checkout / "requirements.txt", checkout / "tests/requirements.txt")
    stamp = subprocess.run(["cksum", "tests/requirements.txt"], cwd=checkout, capture_output=True, check=True)
    (checkout / ".venv/installed-locks").write_bytes(stamp.stdout)
    for name in ("ruff", "oxlint", "djade", "lint-imports"):
        stand_in(checkout / ".venv/bin" / name, "exit 0")
    answer = started(checkout, "test", "--quick")
    assert answer.returncode == 0, answer.stderr
    said = answer.stdout.splitlines()[-4:]
    assert [line.partition(": passed in ")[0] for line in said[:3]] == [
        "Style (ruff, oxlint, djade)", "Direction of imports", "Tests on SQLite"]
    assert all(re.search(r"passed in \d+ s$", line) for line in said[:3])
    assert re.fullmatch(r"All of it: \d+ min \d+ s", said[3])


def pins(lock):
    """Name -> (version, number of hashes) of every package in a lock."""
    entries = re.split(r"\n(?=\S)", (CHECKOUT / lock).read_text())
    found = {}
    for entry in entries:
        if not entry.startswith("#"):
            wanted = Requirement(entry.split("\\")[0])
            [exact] = wanted.specifier
            assert exact.operator == "==", entry
            found[wanted.name] = (exact.version, entry.count("--hash=sha256:"))
    return found


@pytest.mark.parametrize("lock", LOCKS)
def test_every_locked_package_has_a_hash_and_no_address(lock):
    assert [name for name, (_, hashes) in pins(lock).items() if hashes == 0] == []
    assert "://" not in (CHECKOUT / lock).read_text()


def test_the_tests_run_on_the_versions_that_the_studio_runs_on():
    run, test = (pins(lock) for lock in LOCKS)
    assert {name: test.get(name) for name in run} == run


def test_the_short_lists_are_in_the_locks():
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())["project"]
    lists = [project["dependencies"], project["optional-dependencies"]["test"]]
    for lock, wanted in zip(LOCKS, lists, strict=True):
        locked = pins(lock)
        for requirement in map(Requirement, wanted):
            assert locked[requirement.name.lower()][0] in requirement.specifier


def test_the_readme_begins_for_somebody_who_never_saw_a_terminal():
    """What to click or paste, on which computer, how long it takes, how to stop; and no git."""
    text = (CHECKOUT / "README.md").read_text(encoding="utf-8")
    start = text.split("## Start")[1].split("\n## ")[0]
    assert not re.search(r"\bgit\b", start, re.IGNORECASE)
    for words in ("Debian", "ZIP", "Open in Terminal", "Paste", "minute", "To stop", "To go on", "once"):
        assert words in start
    assert re.findall(r"^ {3,}.*bash (.*)$", start, re.MULTILINE) == ["risebook run"]
