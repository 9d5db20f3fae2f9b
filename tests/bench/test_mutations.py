"""Whether the changes that the bench tries are what slips of the hand would make, and drawn alike every time."""
import ast

import pytest

from tests.bench import mutations

TEXT = '''"""Ünd a word that is longer in bytes."""
@marked(True)
def due(rows, today: "a > b", at=1):
    return rows.filter(Q(left__gt=today), until__gte=today) if not at > 1 and "é" in rows else f"{at + 1}"
'''


SLIPS = {
    "2", "('é' not in rows)", "(at >= 1)", "(at > 1)", "(not at > 1 or 'é' in rows)", "Q(left__gte=today)",
    "rows.filter(Q(left__gt=today), until__gt=today)", "rows.filter(Q(left__gt=today))",
    "(f'{at + 1}' if not at > 1 and 'é' in rows else rows.filter(Q(left__gt=today), until__gte=today))",
}


def test_what_runs_is_changed_by_a_slip_and_nothing_else():
    found = mutations.changes_of("x.py", TEXT)
    assert {change.after for change in found} == SLIPS


def test_a_change_is_made_where_it_stands_and_leaves_a_file_that_can_be_read():
    raw = TEXT.encode()
    for change in mutations.changes_of("x.py", TEXT):
        assert ast.dump(ast.parse(raw[change.start : change.end].decode().strip(), mode="eval")) == ast.dump(
            ast.parse(change.before, mode="eval"))
        assert ast.parse(raw[: change.start] + change.after.encode() + raw[change.end :])


def test_a_seed_draws_the_same_changes_again_and_another_one_others():
    parts = list(mutations.PARTS)
    first = mutations.drawn(parts, 3 * len(parts), seed=7)
    assert first == mutations.drawn(parts, 3 * len(parts), seed=7) != mutations.drawn(parts, 3 * len(parts), seed=8)
    assert [name for name, _change in first] == [name for name in parts for _each in range(3)]


@pytest.mark.parametrize("name", mutations.PARTS)
def test_the_files_of_a_part_are_there(name):
    part = mutations.PARTS[name]
    assert [path for path in part.files + part.tests if not (mutations.CHECKOUT / path).exists()] == []
