"""Whether the suite is shared out as it says: what runs once, what comes last, what stays together."""
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests import engines

HERE = Path(__file__).resolve().parent


def item(path: str, *fixtures: str, mark: str = ""):
    return SimpleNamespace(
        path=HERE / path, fixturenames=fixtures, get_closest_marker=lambda name: name == mark or None
    )


@pytest.mark.parametrize("test, once", [
    (item("test_vendored.py"), True),
    (item("test_access.py", "cast", "db"), False),
    (item("progress/test_twenty_at_once.py", mark="django_db"), False),
    (item("progress/test_awkward_pages.py", "cast", "db"), True),
    (item("browser/test_rooms.py", "_show"), True),
    (item("browser/test_pad.py", "live_server", "db"), True),
    (item("browser/test_story.py", "live_server", "db"), False),
])
def test_a_second_database_is_asked_where_it_could_say_something_else(test, once):
    assert engines.runs_once(test) is once


def test_the_files_that_the_list_names_are_there():
    named = engines.BROWSER_ON_BOTH | engines.PAPER_ONCE | {engines.ROOM_BY_ROOM}
    assert named - {path.name for path in HERE.rglob("test_*.py")} == set()


def test_whoever_looks_at_the_studio_on_show_comes_last_and_the_rooms_at_the_very_end():
    names = ["browser/test_rooms.py", "browser/test_hands.py", "test_access.py"]
    items = [item(names[0], "_show"), item(names[1], "_show"), item(names[2], "db")]
    engines.in_order(items)
    assert [each.path for each in items] == [HERE / name for name in reversed(names)]


def test_a_file_may_not_both_look_at_the_show_and_write_into_the_tests_own_database():
    items = [item("browser/test_hands.py", "_show"), item("browser/test_hands.py", "db")]
    with pytest.raises(pytest.UsageError, match="file of their own"):
        engines.in_order(items)


@pytest.mark.parametrize("test, together", [
    ("tests/test_access.py::test_a[owner]", "tests/test_access.py"),
    ("tests/browser/test_rooms.py::test_a[family, kept]", "tests/browser/test_rooms.py[family, kept]"),
])
def test_a_file_stays_with_one_worker_and_a_room_with_its_four_questions(test, together):
    handed_out = engines.FilesInOrder.__new__(engines.FilesInOrder)
    assert handed_out._split_scope(test) == together
