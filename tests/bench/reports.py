"""`python -m tests.bench.reports`: how much dearer a term's reports are than printing their finished pages alone.

Everything printed is measured in that run, on a database of its own: the demo studio's classes as often as it takes
for 300 students, each with three charts, and each report newly issued. The floor is the printer on the very same
pages, on as many cores, doing nothing else; what is compared are ratios, since seconds belong to a machine.
"""

from __future__ import annotations

import argparse
import math
import os
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

WORKERS = 2


def resident_megabytes(pids: list[int]) -> float:
    """The largest memory that one of these processes holds now."""
    held = [0.0]
    for pid in pids:
        try:
            lines = Path(f"/proc/{pid}/status").read_text().splitlines()
        except OSError:
            continue
        held += [int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS")]
    return max(held)


def print_alone(page: str) -> int:
    """What the printer does with a finished page and nothing else."""
    from progress.papers import paper

    return len(paper.pdf(page))


def floor_seconds(pages: list[str]) -> float:
    """Seconds for printing finished pages on all workers, the start of the processes left out."""
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        list(pool.map(print_alone, pages[: 2 * WORKERS]))
        began = time.perf_counter()
        list(pool.map(print_alone, pages, chunksize=1))
        return time.perf_counter() - began


def workers_of(pid: int) -> list[int]:
    """The processes that a process started, and those that they started."""
    files = Path(f"/proc/{pid}/task").glob("*/children")
    own = [int(child) for file in files for child in file.read_text().split()]
    return own + [each for child in own for each in workers_of(child)]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--reports", type=int, default=300)
    reports = asked.parse_args().reports
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {
            "RISEBOOK_VAR_DIR": folder, "RISEBOOK_STATIC_MANIFEST": "no", "DJANGO_SETTINGS_MODULE": "studio.settings",
        }
        os.environ.pop("DATABASE_URL", None)
        for command in (["migrate", "--noinput"], ["first_start"]):
            subprocess.run([sys.executable, "manage.py", *command], check=True, capture_output=True)  # noqa: S603
        _measure(reports)


def _measure(reports: int) -> None:
    import django

    django.setup()
    from progress.actions.papers.reports import order_reports
    from progress.models import IssuedReport, ReportRun, RunSheet
    from progress.queries.papers.reports import students_of_term
    from studio.models import Term, User
    from tests.bench.larger_studio import multiply

    term, owner = Term.objects.order_by("-starts_on").first(), User.objects.get(role=User.OWNER)
    multiply(math.ceil(reports / len(students_of_term(term))) - 1)
    began = time.perf_counter()
    run = order_reports(
        term=term, kind="record", size="A4", students=students_of_term(term)[:reports], asked_on=term.ends_on, by=owner
    )
    ordered = time.perf_counter() - began
    worker = subprocess.Popen([sys.executable, "manage.py", "work", "--workers", str(WORKERS)])  # noqa: S603
    memory, binding = [], []
    while ReportRun.objects.filter(bound_at__isnull=True).exists():
        # Seldom: looking costs the time of whoever prints.
        time.sleep(1)
        waits = run.sheets.filter(state=RunSheet.WAITING).exists()
        (memory if waits else binding).append(resident_megabytes(workers_of(worker.pid)))
    worker.terminate()
    done = sorted(run.sheets.values_list("done_at", flat=True))
    # From the end of the first report on: starting the workers is not part of a report.
    seconds = (done[-1] - done[0]).total_seconds() * len(done) / (len(done) - 1)
    pages = list(IssuedReport.objects.values_list("page", flat=True))
    alone = floor_seconds(pages)
    quarter = max(len(memory) // 4, 1)
    print(
        f"{len(done)} students in one order, {len(pages)} reports newly issued, {len(done) - len(pages)} left out, "
        f"{WORKERS} workers, ordered in {ordered:.1f} s\n"
        f"  the printer alone on the same pages: {alone / len(pages) * 1000:.0f} ms a report\n"
        f"  from facts to file, in the queue:    {seconds / len(done) * 1000:.0f} ms a report, "
        f"ratio {seconds / alone:.2f} (goal 1.3)\n"
        f"  memory of the largest process: {max(memory[:quarter]):.0f} MB in the first quarter of the run, "
        f"{max(memory[-quarter:]):.0f} MB in the last; {max(binding, default=0):.0f} MB while they are bound",
    )


if __name__ == "__main__":
    main()
