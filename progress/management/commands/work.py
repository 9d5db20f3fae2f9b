"""`manage.py work`: prints reports in the background, on every core, and takes up again what was interrupted."""
import fcntl
import gc
import os
import subprocess
import sys
import threading
import time
import uuid
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import close_old_connections
from django.utils import timezone
from django_tasks.signals import task_finished

from progress.actions.papers.background import forget_finished, give_back
from progress.actions.papers.reports import give_up_lost, remove_expired_files
from studio.queries import studio_day

# A worker that printed this many reports makes room for a fresh one. Its memory grows by 0.1 MB with each (measured
# over 145 in a row), its start costs as much as ten of them.
TASKS_A_WORKER = 300


class Command(BaseCommand):
    help = "Prints reports in the background, until it is stopped or whoever started it has ended."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, help="how many at once")
        parser.add_argument("--one", metavar="NAME", help="work alone under this name, as each of them does")

    def handle(self, *args, workers: int, one: str | None, **options) -> None:
        end_with_parent()
        if one:
            collect_after_each()
            call_command(
                "db_worker", queue_name="*", reload=False, interval=0.5, max_tasks=TASKS_A_WORKER, worker_id=one,
                startup_delay=False, verbosity=0,
            )
            return
        if not 1 <= workers <= 64:
            raise CommandError("From 1 to 64 workers.")
        lock = (Path(settings.VAR_DIR) / "work.lock").open("w")
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise CommandError("Reports are already being printed in the background.") from None
        keep_working(workers)


def end_with_parent() -> None:
    """Ends this process within a second of the one that started it, however that one ended."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(0.5)
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


def collect_after_each() -> None:
    """Looks for rubbish once a report, when its tree of boxes is dead: not many times while it is being laid out."""
    gc.collect()
    gc.freeze()
    gc.disable()
    task_finished.connect(lambda **_signal: gc.collect(), weak=False)


def keep_working(workers: int) -> None:
    """Keeps so many workers at work; what one of them left undone when it died waits again."""
    running: dict[str, subprocess.Popen] = {}
    cleaned_on = None
    while True:
        ended = [name for name, process in running.items() if process.poll() is not None]
        for name in ended:
            del running[name]
        if ended or not running:
            give_back(alive=set(running))
            give_up_lost()
        while len(running) < workers:
            name = uuid.uuid4().hex
            # Nice: entering results does not wait for reports.
            manage = str(Path(settings.BASE_DIR) / "manage.py")
            running[name] = subprocess.Popen(  # noqa: S603
                [sys.executable, manage, "work", "--one", name], preexec_fn=lambda: os.nice(10)
            )
        if cleaned_on != studio_day(timezone.now()):
            cleaned_on = studio_day(timezone.now())
            remove_expired_files(today=cleaned_on)
            forget_finished(now=timezone.now())
        close_old_connections()
        time.sleep(1)
