"""`python -m tests.bench.one_result`: what one result costs in the demo and in ten years of it, on both databases.

Processor time of this process, and on PostgreSQL of the one that serves it, from the tap's action to its commit; bytes
written: what the transaction adds to the database's log (SQLite: pages of 4 kB; PostgreSQL: records, without whole
pages after a checkpoint). Every figure is the median of its taps, for bytes the largest as well.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

MOST_RATIO, MOST_KILOBYTES = 1.3, 64
VALUES = {"rises": "14", "passe-balance": "9.5", "landing-control": "1"}


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--only", choices=["sqlite", "postgresql"])
    asked.add_argument("--here", choices=["demo", "ten years"], help=argparse.SUPPRESS)
    told = asked.parse_args()
    if told.here:
        print(json.dumps(_measure(told.here)))
        return
    for engine in ("sqlite", "postgresql"):
        if told.only in (None, engine):
            _say(engine, {name: _in_a_studio_of_its_own(engine, name) for name in ("demo", "ten years")})


def _say(engine: str, told: dict) -> None:
    print(f"{engine}: {told['demo']['results']} results in the demo, {told['ten years']['results']} in ten years")
    for kind in ("in the middle of a day", "first of a measure on a day"):
        demo, grown = (told[name][kind] for name in ("demo", "ten years"))
        print(
            f"  {kind}: {demo['ms']:.0f} and {grown['ms']:.0f} ms of processor time, "
            f"ratio {grown['ms'] / demo['ms']:.2f} (goal {MOST_RATIO}); "
            f"{demo['kb']:.0f} and {grown['kb']:.0f} kB written, at most {demo['most_kb']:.0f} and "
            f"{grown['most_kb']:.0f} (goal {MOST_KILOBYTES})"
        )
    print(f"  {told['ten years']['frozen']}")
    print(f"  a stored line: at most {max(told[name]['line'] for name in told)} letters", flush=True)


def _in_a_studio_of_its_own(engine: str, name: str) -> dict:
    with tempfile.TemporaryDirectory(prefix="risebook-bench.") as folder, _database(engine, Path(folder)) as url:
        environment = os.environ | {
            "RISEBOOK_VAR_DIR": folder, "RISEBOOK_STATIC_MANIFEST": "no", "DATABASE_URL": url,
            "DJANGO_SETTINGS_MODULE": "studio.settings", "RISEBOOK_DEBUG": "no",
        }
        for command in (["migrate", "--noinput"], ["first_start"]):
            subprocess.run(  # noqa: S603
                [sys.executable, "manage.py", *command], check=True, capture_output=True, env=environment)
        words = [sys.executable, "-m", "tests.bench.one_result", "--here", name]
        done = subprocess.run(words, check=True, stdout=subprocess.PIPE, text=True, env=environment)  # noqa: S603
        return json.loads(done.stdout.splitlines()[-1])


@contextlib.contextmanager
def _database(engine: str, folder: Path) -> Iterator[str]:
    if engine == "sqlite":
        yield f"sqlite:///{folder / 'risebook.sqlite3'}"
        return
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin")) or [Path(shutil.which("initdb") or "initdb").parent]
    tools = found[-1]
    place = Path(tempfile.mkdtemp(prefix="risebook-bench.", dir="/tmp"))  # noqa: S108 - a socket's path is short
    # initdb and postgres refuse to work for root.
    as_user = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
    if as_user:
        shutil.chown(place, "postgres")

    def run(*words: str) -> None:
        subprocess.run([*as_user, *words], check=True, cwd=place, stdout=subprocess.DEVNULL)  # noqa: S603

    run(f"{tools}/initdb", "-D", f"{place}/data", "-U", "risebook", "--auth", "trust", "--encoding", "UTF8",
        "--locale", "C.UTF-8", "--no-sync")
    run(f"{tools}/pg_ctl", "-D", f"{place}/data", "-w", "-l", f"{place}/log", "-o",
        f"-k {place} -c listen_addresses='' -c fsync=off -c full_page_writes=off", "start")
    try:
        run(f"{tools}/createdb", "-h", str(place), "-U", "risebook", "risebook")
        yield f"postgres://risebook@/{place}/risebook"
    finally:
        run(f"{tools}/pg_ctl", "-D", f"{place}/data", "-m", "immediate", "stop")
        shutil.rmtree(place, ignore_errors=True)


def _measure(name: str) -> dict:
    import django

    django.setup()
    from django.utils import timezone

    from progress.models import Standing
    from screening.models import Result, Screening
    from studio.models import ClassGroup
    from tests.bench.ten_years import make_ten_years

    if name == "ten years":
        make_ten_years()
    today = timezone.localdate()
    screening = Screening.objects.get(held_on=today, closed_at=None)
    told = {"results": Result.objects.count(), "frozen": _what_freezing_changes() if name == "ten years" else ""}
    told["in the middle of a day"] = _summed(_taps(screening, everyone=False))
    second = ClassGroup.objects.get(name="Pre-pointe B")
    fresh = Screening.objects.create(
        class_group=second, term=screening.term, battery=screening.battery, held_on=today,
        opened_by=screening.opened_by,
    )
    told["first of a measure on a day"] = _summed(_taps(fresh, everyone=True))
    told["line"] = max(len(json.dumps(line)) for line in Standing.objects.values_list("line", flat=True))
    return told


def _what_freezing_changes() -> str:
    """The lines of today, read on from what was carried over, beside the same from every result there is."""
    from progress.actions.carrying import Judging
    from progress.judging.judgement import judge_class
    from progress.queries.judged import judge_facts
    from studio.models import ClassGroup

    judging, pairs = Judging(), []
    for group in ClassGroup.objects.order_by("pk"):
        known = judging.known(group.pk)
        if not known.facts:
            continue
        facts, targets = judge_facts(known.seen, judging.measures)
        whole = judge_class(facts, measures=known.measures, targets=targets, as_of=known.as_of).lines
        pairs += [(line, whole[key]) for key, line in known.judged(known.as_of).lines.items()]
    told = [(line, whole) for line, whole in pairs if line.level is not None and whole.level_high80 > whole.level_low80]
    other = sum(line.verdict != whole.verdict for line, whole in pairs)
    apart = statistics.median(abs(line.p_no_gain - whole.p_no_gain) for line, whole in pairs)
    moved = statistics.median(
        abs(line.level - whole.level) / (whole.level_high80 - whole.level_low80) for line, whole in told)
    return (
        f"read on from the state instead of from every result: {other} of {len(pairs)} lines with another verdict, "
        f"half of the chances of no gain moved by more than {apart:.3f}, levels by {100 * moved:.1f} % of their range"
    )


def _summed(taps: list[tuple[float, float]]) -> dict:
    seconds, written = zip(*taps, strict=True)
    return {
        "ms": 1000 * statistics.median(seconds), "kb": statistics.median(written) / 1000,
        "most_kb": max(written) / 1000,
    }


def _taps(screening, *, everyone: bool) -> list[tuple[float, float]]:
    """Records what is lacking; or the first result of each measure. A first tap is not counted: it warms up."""
    from django.utils import timezone

    from progress.actions.measuring import record_result
    from progress.queries.resting import rests
    from screening.actions import Entry
    from screening.models import Result
    from screening.queries import battery_measures, students_of
    from tests.bench.meters import Meter

    measured = set(Result.objects.filter(screening=screening).values_list("student", flat=True))
    waiting = [child for child in students_of(screening) if child.pk not in measured]
    resting = rests([child.pk for child in waiting], now=timezone.now())
    waiting = [child for child in waiting if child.pk not in resting]
    taps = [(child, measure, side) for child in waiting for measure in battery_measures(screening.battery)
            for side in measure.sides]
    if everyone:
        firsts = {measure.pk: (child, measure, side) for child, measure, side in reversed(taps)}
        taps = list(firsts.values())
    meter, told = Meter(), []
    for child, measure, side in taps:
        meter.begin()
        record_result(
            key=uuid.uuid4(), screening=screening, student=child, measure=measure, side=side,
            entry=Entry(value=Decimal(VALUES[measure.key])), by=screening.opened_by,
        )
        told.append(meter.end())
    return told if everyone else told[1:]


if __name__ == "__main__":
    main()
