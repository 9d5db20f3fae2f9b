"""`manage.py judge` on a file of a class's results says what the pages say, to the last digit."""
import csv
import datetime as dt
import io
import json

import numpy as np
from django.core.management import call_command

from progress.actions.standings import rebuild_standings
from progress.judging.line_record import read_line
from progress.models import Standing
from progress.words.verdict import reason
from screening.models import Protocol, Result
from studio.voice import PLAIN, counted_weeks
from tests import factories

START = dt.date(2026, 1, 6)


def measure_a_class(cast, weeks=11):
    """Six children on three measures and both feet, week after week, with wobble, caps and grades."""
    rng = np.random.default_rng(8)
    children = [factories.StudentFactory(name=f"Child Number{n}", stage=cast.ama.stage) for n in range(6)]
    protocols = {protocol.measure_id: protocol for protocol in Protocol.objects.all()}
    rows = []
    for week in range(weeks):
        screening = factories.ScreeningFactory(
            class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=START + dt.timedelta(weeks=week)
        )
        for at, child in enumerate(children):
            for measure, value in (
                (cast.rises, round(10 + at + 0.5 * week + rng.normal(0, 2.0))),
                (cast.balance, min(30, round(float(np.exp(2 + 0.05 * week + rng.normal(0, 0.3))), 1))),
                (cast.landing, int(np.clip(round(0.5 + 0.1 * week + rng.normal(0, 0.4)), 0, 2))),
            ):
                rows += [
                    Result(
                        screening=screening, student=child, measure=measure, side=side, value=value,
                        protocol=protocols[measure.pk], reached_cap=measure == cast.balance and value == 30,
                        taken_on=screening.held_on, by=cast.teacher,
                    )
                    for side in "LR"
                ]
    Result.objects.bulk_create(rows)
    rebuild_standings()


def write_file(path):
    targets = {"rises": 20, "passe-balance": 15, "landing-control": 2}
    with path.open("w", newline="", encoding="utf-8") as file:
        sheet = csv.writer(file)
        sheet.writerow([
            "class", "student", "measure", "side", "date", "value", "assessor", "protocol", "cap", "target",
        ])
        for row in Result.objects.select_related("student", "measure", "protocol", "by"):
            value = f"at least {row.value}" if row.reached_cap else row.value
            sheet.writerow([
                "A", row.student.name, row.measure.name, row.side, row.taken_on, value, row.by.name,
                row.protocol.version, row.protocol.cap or "", targets[row.measure.key],
            ])


def test_the_command_says_what_the_pages_say_to_the_last_digit(cast, tmp_path):
    measure_a_class(cast)
    write_file(tmp_path / "class.csv")
    out = io.StringIO()
    call_command("judge", str(tmp_path / "class.csv"), "--format", "json", stdout=out)
    told = {(row["student"], row["measure"], row["side"]): row for row in json.loads(out.getvalue())}
    standings = Standing.objects.select_related("student", "measure")
    assert len(told) == len(standings) == 36
    voice = PLAIN.__class__(**{**PLAIN.__dict__, "week": counted_weeks(START)})
    for standing in standings:
        line, row = read_line(standing.line), told[standing.student.name, standing.measure.name, standing.side]
        assert row["verdict"] == standing.verdict
        assert [row[name] for name in ("p_gain", "p_flat", "p_slip")] == [
            round(p, 4) for p in (line.p_gain, line.p_flat, line.p_slip)
        ]
        assert [row["rate"], row["rate_low80"], row["rate_high80"]] == [
            round(rate, 4) for rate in (line.rate, line.rate_low80, line.rate_high80)
        ]
        assert row["reason"] == reason(line, voice=voice, units={line.measure: standing.measure.name})
