"""A judged line comes back from its record as it was written, whatever it says; and what was written long ago, too."""
import dataclasses
import json
from dataclasses import replace
from datetime import date, timedelta

import pytest

from progress.judging.judgement import Gap, Knot, carry_over
from progress.judging.line_record import _LONG, _SHORT, read_carried, read_line, write_carried, write_line
from tests.progress.facts_of import GAINS, MEASURES, SLIPS, STANDS, TUESDAY, facts, judged, one_line

TARGETS = {("Dunya", "rises"): 20.0, ("Dunya", "balance"): 15.0}


def back(line):
    return read_line(json.loads(json.dumps(write_line(line))))


def lines():
    after = facts([9, 10, 10], first_on=TUESDAY + timedelta(weeks=14), protocol=2)
    capped = facts([30.0] * 6, measure="balance", capped=True, cap=30.0)
    both = judged(facts(GAINS) + facts(STANDS, side="R"), targets=TARGETS).lines.values()
    return {
        "both feet": list(both),
        "one result": [one_line(facts([8]))],
        "nothing that counts": [one_line([replace(facts([300])[0], cap=60.0, key=1)])],
        "slips": [one_line(facts(SLIPS))],
        "a loss": [one_line(facts([*GAINS, 6, 6]))],
        "another protocol": [one_line(facts(GAINS) + [replace(f, key=("new", f.key)) for f in after])],
        "at the cap": [one_line(capped, targets=TARGETS)],
        "a grade": [one_line(facts([0, 1, 1, 2, 1, 2], measure="landing", side=""))],
        "a slip of the pen": [one_line([replace(f, key=at) for at, f in enumerate(facts([10, 11, 10, 12, 99, 11]))])],
        "nothing lately": [judged(
            facts(GAINS[:5]) + facts(GAINS, student="Greta"), targets=TARGETS).lines["Dunya", "rises", "L"]],
    }


@pytest.mark.parametrize("name", list(lines()))
def test_a_line_comes_back_as_it_was_written(name):
    for line in lines()[name]:
        assert back(line) == line


def test_knots_that_are_no_week_apart_or_too_large_come_back_too():
    line = one_line(facts(GAINS))
    knots = tuple(replace_knot(knot, on=knot.on + timedelta(days=at * at)) for at, knot in enumerate(line.knots))
    assert back(replace(line, knots=knots)).knots == knots
    large = (*(replace_knot(knot, band_high=1234.5) for knot in line.knots[:-1]), line.knots[-1])
    assert back(replace(line, knots=large)).knots == large
    assert back(replace(line, knots=line.knots[:1])).knots == line.knots[:1]


def replace_knot(knot: Knot, **values) -> Knot:
    return knot._replace(**values)


def test_a_line_of_a_finished_term_that_was_written_by_long_names_is_read():
    line = replace(one_line(facts(GAINS)), gap=Gap(1.0, -1.0, 2.0, 2.5, False, 6))

    def plain(value):
        if isinstance(value, date):
            return value.isoformat()
        if isinstance(value, Knot):
            return {name: plain(part) for name, part in value._asdict().items()}
        if dataclasses.is_dataclass(value):
            return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return [plain(part) for part in value] if isinstance(value, list | tuple) else value

    assert read_line(json.loads(json.dumps(plain(line)))) == line


def test_every_part_has_a_short_name_of_its_own_and_a_line_is_short():
    line = one_line(facts(GAINS), targets=TARGETS)
    assert len(_LONG) == len(_SHORT) == len(dataclasses.fields(line))
    assert len(json.dumps(write_line(line))) < 1000


def test_what_is_carried_comes_back_to_the_last_bit():
    results = [replace(f, key=at) for at, f in enumerate(facts(GAINS) + facts([8, 9, 9, 400], measure="balance"))]
    carried = carry_over(results, measures=MEASURES, as_of=TUESDAY + timedelta(weeks=13, days=5))
    assert read_carried("Dunya", json.loads(json.dumps(write_carried(carried)))) == carried
