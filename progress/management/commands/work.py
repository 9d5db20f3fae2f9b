"""`manage.py work`: prints reports in the background, on every core, and takes up again what was interrupted."""
import fcntl
import os
import subprocess
import sys
import time
import uuid
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from progress.actions.background import give_back
from progress.actions.reports import remove_expired_files
from studio.queries import studio_today

# A worker that printed this many reports makes room for a fresh one: the printer's memory grows a little with each.
TASKS_A_WORKER = 100


class Command(BaseCommand):
    help = "Prints reports in the background until it is stopped."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, help="how many at once")

    def handle(self, *args, workers: int, **options) -> None:
        if not 1 <= workers <= 64:
            raise CommandError("From 1 to 64 workers.")
        lock = (Path(settings.VAR_DIR) / "work.lock").open("w")
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as taken:
            raise CommandError("Reports are already being printed in the background.") from taken
        running: dict[str, subprocess.Popen] = {}
        try:
            self._keep_working(running, workers)
        except KeyboardInterrupt:
            pass
        finally:
            for process in running.values():
                process.terminate()

    def _keep_working(self, running: dict[str, subprocess.Popen], workers: int) -> None:
        cleaned_on = None
        while True:
            ended = [name for name, process in running.items() if process.poll() is not None]
            for name in ended:
                del running[name]
            if ended or not running:
                give_back(alive=set(running))
            while len(running) < workers:
                name = uuid.uuid4().hex
                running[name] = subprocess.Popen(_worker(name))  # noqa: S603
            if cleaned_on != studio_today():
                cleaned_on = studio_today()
                remove_expired_files(today=cleaned_on)
            time.sleep(1)


def _worker(name: str) -> list[str]:
    manage = str(Path(settings.BASE_DIR) / "manage.py")
    return [
        sys.executable, manage, "db_worker", "--queue-name", "*", "--no-reload", "--interval", "0.5",
        "--max-tasks", str(TASKS_A_WORKER), "--worker-id", name, "--verbosity", "0", "--no-startup-delay",
    ]
