"""What `./risebook run` starts comes back when it dies, ends with it, and is started once in a folder."""
import os
import signal
import subprocess
import sys
import time

import pytest
from django.db import OperationalError

from progress.management.commands import work
from tests.test_start import checkout, free_port, installed, stand_in  # noqa: F401


def wait_until(is_so, seconds=60):
    until = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < until, "it took too long"
        time.sleep(0.05)


def asked(checkout):  # noqa: F811
    path = checkout / "asked"
    return path.read_text().splitlines() if path.exists() else []


@pytest.fixture
def serving(installed):  # noqa: F811
    """A Risebook whose web server and background work are stand-ins that go on until they are killed."""
    checkout, port = installed('[ "$2" = work ] && echo "work $$ $4" >>asked && exec sleep 600'), free_port()  # noqa: F811
    stand_in(checkout / ".venv/bin/gunicorn", 'echo "gunicorn $$" >>asked; exec sleep 600')
    environment = {"PATH": f"{checkout}/bin:{os.environ['PATH']}", "HOME": str(checkout)}
    with (checkout / "said").open("w") as said:
        served = subprocess.Popen(
            ["bash", checkout / "risebook", "run", "--port", str(port)], env=environment, stdout=said, stderr=said,
            stdin=subprocess.DEVNULL, start_new_session=True,
        )
    try:
        wait_until(lambda: any(line.startswith("gunicorn") for line in asked(checkout)) and works(checkout))
        yield checkout, served, environment
    finally:
        os.killpg(served.pid, signal.SIGKILL)
        served.wait()


def works(checkout):  # noqa: F811
    """The numbers of the background processes, in the order of their starts."""
    return [int(line.split()[1]) for line in asked(checkout) if line.startswith("work ")]


@pytest.mark.thorough
def test_background_work_that_dies_comes_back(serving):
    checkout, served, _environment = serving  # noqa: F811
    os.kill(works(checkout)[0], signal.SIGKILL)
    wait_until(lambda: len(works(checkout)) == 2)
    assert asked(checkout)[-1].endswith(f" {served.pid}")
    assert work.is_running(works(checkout)[1])


@pytest.mark.thorough
def test_a_second_start_says_who_is_running_and_leaves_it_alone(serving):
    checkout, served, environment = serving  # noqa: F811
    before = asked(checkout)
    second = subprocess.run(
        ["bash", checkout / "risebook", "run", "--port", str(free_port())], env=environment, capture_output=True,
        text=True, timeout=60, stdin=subprocess.DEVNULL,
    )
    assert second.returncode == 1
    assert f"Risebook runs in this folder already: process {served.pid}, since " in second.stderr
    assert second.stderr.strip().endswith("It was left alone.")
    assert asked(checkout) == before
    assert served.poll() is None


@pytest.mark.thorough
def test_after_a_kill_the_folder_is_free_for_the_next_start(serving):
    checkout, served, environment = serving  # noqa: F811
    served.kill()
    served.wait()
    next_one = subprocess.Popen(
        ["bash", checkout / "risebook", "run", "--port", str(free_port())], env=environment,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, start_new_session=True,
    )
    try:
        wait_until(lambda: sum(line.startswith("gunicorn") for line in asked(checkout)) == 2)
    finally:
        os.killpg(next_one.pid, signal.SIGKILL)
        next_one.wait()


def test_the_background_work_ends_with_the_process_it_was_told_of():
    """Its own parent lives on."""
    web = subprocess.Popen(["sleep", "600"])
    worker = subprocess.Popen([
        sys.executable, "-c", "import sys, time; from unittest import mock; import django; django.setup()\n"
        "from progress.management.commands.work import end_with_parent\n"
        "end_with_parent(int(sys.argv[1])); print('ready', flush=True); time.sleep(600)", str(web.pid),
    ], env=os.environ | {"DJANGO_SETTINGS_MODULE": "studio.settings"}, stdout=subprocess.PIPE, text=True)
    try:
        assert worker.stdout.readline() == "ready\n"
        # Killed and not yet waited for: a process that has ended counts as one, even while its parent looks away.
        web.kill()
        assert worker.wait(60) == 0
    finally:
        worker.kill()
        worker.stdout.close()
        web.wait()


class Enough(Exception):
    pass


def test_a_database_that_is_away_is_outlived(db, monkeypatch, caplog):
    rounds, alive = [], []

    def look_after(self):
        rounds.append(1)
        if 2 <= len(rounds) <= 4:
            raise OperationalError("connection refused")
        if len(rounds) == 6:
            raise Enough

    monkeypatch.setattr(work.Crew, "look_after", look_after)
    monkeypatch.setattr(work.time, "sleep", lambda seconds: None)
    monkeypatch.setattr(work.connection, "close", lambda: None)
    monkeypatch.setattr(work, "close_old_connections", lambda: None)
    with pytest.raises(Enough):
        work.keep_working(1, lambda: alive.append(1))
    assert len(alive) == 5
    said = [record.getMessage() for record in caplog.records]
    assert said == ["The database does not answer; background work waits for it. It said: connection refused",
                    "The database answers again: background work goes on."]


class Ended:
    def poll(self):
        return 1


def test_a_worker_that_dies_at_once_is_not_started_every_second(db, monkeypatch):
    clock, starts = [100.0], []

    def start_one(self):
        starts.append(clock[0])
        self.running[str(len(starts))] = (Ended(), clock[0])

    monkeypatch.setattr(work.Crew, "start_one", start_one)
    monkeypatch.setattr(work.time, "monotonic", lambda: clock[0])
    crew = work.Crew(1)
    for _second in range(60):
        crew.look_after()
        clock[0] += 1
    assert [round(later - earlier) for earlier, later in zip(starts, starts[1:], strict=False)][:5] == [2, 3, 5, 9, 17]


def test_what_a_worker_left_undone_waits_again_even_when_the_database_was_away_meanwhile(db, monkeypatch):
    given_back = []

    def give_back(alive):
        given_back.append(alive)
        if len(given_back) == 2:
            raise OperationalError("connection refused")

    monkeypatch.setattr(work, "give_back", give_back)
    crew = work.Crew(0)
    crew.look_after()
    crew.running["dead"] = (Ended(), 0.0)
    with pytest.raises(OperationalError):
        crew.look_after()
    crew.look_after()
    crew.look_after()
    assert given_back == [set()] * 3
