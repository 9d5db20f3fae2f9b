"""A studio in a process of its own, on a database in a file, that can be killed in mid-request and started again."""
import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
# Twelve children are a class; every run gets a day of its own. Prints what a browser needs to come in.
BUILD = """
import datetime as dt, json, sys
import django
django.setup()
from django.test import Client
from progress.actions.classwork.exercises import fill_in_exercises
from progress.actions.classwork.programme import plan_exercise
from tests import factories
from progress.rules.dose import Dose
from progress.models import Exercise
from screening.actions import fill_in_catalogue
from screening.models import Battery
from studio.actions import make_stages
from studio.models import Studio, User
make_stages()
fill_in_catalogue()
fill_in_exercises()
Studio.objects.update_or_create(pk=1, defaults={"name": "Larkmere Ballet Studio"})
today = dt.date.today()
days, children = int(sys.argv[1]), int(sys.argv[2])
term = factories.TermFactory(starts_on=today - dt.timedelta(60), ends_on=today + dt.timedelta(30))
teacher = User.objects.create_user("davit", password="barre-and-floor-barre", name="Davit Meskhi")
group = factories.ClassGroupFactory(name="Pre-pointe A")
group.teachers.add(teacher)
for number in range(children):
    child = factories.StudentFactory(name="Child%02d Example" % number)
    factories.EnrolmentFactory(student=child, class_group=group, term=term)
for key in ("rises-first", "short-foot"):
    plan_exercise(class_group=group, term=term, exercise=Exercise.objects.get(key=key), dose=Dose(2, 8), added_on=today,
                  by=teacher)
battery = Battery.objects.get(key="barre-check")
opened = [factories.ScreeningFactory(class_group=group, term=term, battery=battery, opened_by=teacher, held_on=today)
          for _n in range(days)]
client = Client()
client.force_login(teacher, backend="django.contrib.auth.backends.ModelBackend")
print(json.dumps({"session": client.cookies["sessionid"].value, "class_group": group.pk,
                  "screenings": [each.pk for each in opened]}))
"""


def _text(path: Path) -> str:
    try:
        return path.read_text()
    except OSError:
        # It ended meanwhile.
        return ""


class RealStudio:
    """Built once in a folder; `start` and `kill` as often as one likes."""

    def __init__(self, folder: Path, *, days: int, children: int = 12):
        self.folder = folder
        kept = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "RISEBOOK_TLS")}
        self.environment = {
            **kept, "RISEBOOK_VAR_DIR": str(folder), "RISEBOOK_STATIC_MANIFEST": "no",
            "DJANGO_SETTINGS_MODULE": "studio.settings",
        }
        self._python("manage.py", "migrate", "--noinput")
        told = json.loads(self._python("-c", BUILD, str(days), str(children)).splitlines()[-1])
        self.session, self.screenings, self.class_group = told["session"], told["screenings"], told["class_group"]
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.address = f"http://127.0.0.1:{free.getsockname()[1]}"
        self.server: subprocess.Popen | None = None

    def _python(self, *words: str) -> str:
        done = subprocess.run(
            [sys.executable, *words], cwd=CHECKOUT, env=self.environment, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout

    def start(self) -> None:
        """Starts the server and waits until it answers."""
        self.spawn()
        until = time.monotonic() + 120
        while not self._answers():
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.1)

    def spawn(self) -> None:
        words = ["-m", "gunicorn", "--bind", self.address.removeprefix("http://"), "--workers", "1", "studio.wsgi"]
        self.server = subprocess.Popen(
            [sys.executable, *words], cwd=CHECKOUT, env=self.environment, start_new_session=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )

    def _answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.address}/barre/worker.js", timeout=5) as answer:  # noqa: S310
                return answer.status == 200
        except (urllib.error.URLError, OSError):
            return False

    def kill(self) -> None:
        """kill -9, whatever it is doing: the server and the process that answers."""
        if self.server is not None:
            os.killpg(self.server.pid, signal.SIGKILL)
            self.server.wait()
            self.server = None

    def processor_time(self) -> float:
        """Seconds of processor time of the server and of the process that answers, so far; from Linux's /proc."""
        told = map(_text, Path("/proc").glob("[0-9]*/stat"))
        fields = [text.rpartition(")")[2].split() for text in told if text]
        ticks = sum(int(row[11]) + int(row[12]) for row in fields if int(row[2]) == self.server.pid)
        return ticks / os.sysconf("SC_CLK_TCK")

    def let_in(self, context) -> None:
        context.add_cookies([{"name": "sessionid", "value": self.session, "url": self.address}])

    def results(self, screening: int) -> list[tuple]:
        """(key, student, side, value, reason, what it replaced) of every row, in the order stored."""
        base = sqlite3.connect(self.folder / "risebook.sqlite3", timeout=20)
        try:
            return base.execute(
                "select key, student_id, side, value, reason_missing, supersedes_id, id from screening_result "
                "where screening_id = ? order by id", [screening],
            ).fetchall()
        finally:
            base.close()

    def standing(self, screening: int) -> dict[tuple[str, str], int]:
        """(student, side) to the grade that counts."""
        rows = self.results(screening)
        gone = {row[5] for row in rows}
        return {(str(row[1]), row[2]): int(row[3]) for row in rows if row[6] not in gone and not row[4]}
