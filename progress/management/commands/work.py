"""`manage.py work`: prints reports in the background, on every core, and takes up again what was interrupted."""
import fcntl
import gc
import logging
import os
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import InterfaceError, OperationalError, close_old_connections, connection
from django.utils import timezone
from django_tasks.signals import task_finished

from progress.actions.papers.background import forget_finished, give_back
from progress.actions.papers.reports import give_up_lost, remove_expired_files, remove_half_made
from studio.clearing import clear_what_is_over
from studio.queries import studio_day

# A worker that printed this many reports makes room for a fresh one. Its memory grows by 0.1 MB with each (measured
# over 145 in a row), its start costs as much as ten of them.
TASKS_A_WORKER = 300
# A worker that ended so soon (seconds) found something broken: the next one waits, twice as long each time.
EARLY_END, LONGEST_WAIT = 20.0, 30.0
log = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Prints reports in the background, until it is stopped or whoever started it has ended."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, help="how many at once")
        parser.add_argument("--one", metavar="NAME", help="work alone under this name, as each of them does")
        parser.add_argument("--until", metavar="PID", type=int, help="end with this process, too")

    def handle(self, *args, workers: int, one: str | None, until: int | None, **options) -> None:
        end_with_parent(until)
        if one:
            collect_after_each()
            call_command(
                "db_worker", queue_name="*", reload=False, interval=0.5, max_tasks=TASKS_A_WORKER, worker_id=one,
                startup_delay=False, verbosity=0,
            )
            return
        if not 1 <= workers <= 64:
            raise CommandError("From 1 to 64 workers.")
        lock = (Path(settings.VAR_DIR) / "work.lock").open("a")
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise CommandError("Reports are already being printed in the background.") from None
        keep_working(workers, say_alive=lambda: os.utime(lock.fileno()))


def end_with_parent(until: int | None = None) -> None:
    """Ends this process within a second of the one that started it, and of `until`, however they ended."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent and (until is None or is_running(until)):
            time.sleep(0.5)
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


def is_running(number: int) -> bool:
    """True where a process has this number, and has not ended."""
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    try:
        return ") Z " not in Path(f"/proc/{number}/stat").read_text()
    except OSError:
        # Not Linux: the signal's word is all there is.
        return True


def collect_after_each() -> None:
    """Looks for rubbish once a report, when its tree of boxes is dead: not many times while it is being laid out."""
    gc.collect()
    gc.freeze()
    gc.disable()
    task_finished.connect(lambda **_signal: gc.collect(), weak=False)


def keep_working(workers: int, say_alive: Callable[[], None]) -> None:
    """Keeps so many workers at work; what one of them left undone when it died waits again.

    A database that is away for a while is outlived: the work goes on when it answers again. `say_alive` is called
    once a round, whatever went wrong in it.
    """
    crew, is_away = Crew(workers), False
    while True:
        try:
            crew.look_after()
            if is_away:
                log.warning("The database answers again: background work goes on.")
            is_away = False
        except (OperationalError, InterfaceError) as problem:
            if not is_away:
                log.warning("The database does not answer; background work waits for it. It said: %s", problem)
            is_away = True
            connection.close()
        close_old_connections()
        say_alive()
        time.sleep(1)


class Crew:
    """The processes that work, how each ends, and what is done once a day beside them."""

    def __init__(self, workers: int):
        self.workers, self.running, self.cleaned_on = workers, {}, None
        self.is_undone, self.wait, self.next_start = True, 0.0, 0.0

    def look_after(self) -> None:
        """One round: whoever ended is replaced, and what it left undone waits again."""
        ended = [name for name, (process, _since) in self.running.items() if process.poll() is not None]
        for name in ended:
            _process, since = self.running.pop(name)
            # One that dies at once would otherwise be started every second, on a computer in trouble already.
            self.wait = min(max(1.0, self.wait * 2), LONGEST_WAIT) if time.monotonic() - since < EARLY_END else 0.0
            self.next_start = time.monotonic() + self.wait
        # Remembered until it is done: the database may be away just now.
        self.is_undone = self.is_undone or bool(ended)
        if self.is_undone:
            give_back(alive=set(self.running))
            give_up_lost()
            self.is_undone = False
        while len(self.running) < self.workers and time.monotonic() >= self.next_start:
            self.start_one()
        if self.cleaned_on != studio_day(timezone.now()):
            remove_expired_files(today=studio_day(timezone.now()))
            forget_finished(now=timezone.now())
            remove_half_made(now=timezone.now())
            clear_what_is_over(now=timezone.now(), today=studio_day(timezone.now()))
            self.cleaned_on = studio_day(timezone.now())

    def start_one(self) -> None:
        name, manage = uuid.uuid4().hex, str(Path(settings.BASE_DIR) / "manage.py")
        # Nice: entering results does not wait for reports.
        process = subprocess.Popen(  # noqa: S603
            [sys.executable, manage, "work", "--one", name], preexec_fn=lambda: os.nice(10)
        )
        self.running[name] = (process, time.monotonic())
