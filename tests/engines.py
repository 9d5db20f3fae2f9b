"""Which tests run once, and which on both databases; and how the files are handed out to several workers."""
import pytest
from xdist.scheduler.loadscope import LoadScopeScheduling

# What asks for a database, under the names of fixtures and marks. `_show` is the demo studio of the browser's tests.
DATABASE = {"db", "transactional_db", "live_server", "_show"}
# Of the browser's tests those whose posts may meet another tablet's, or come twice or late, and the two whole stories.
# The rest drive the same actions by one finger at a time, or only look: which database answers is nothing to them.
BROWSER_ON_BOTH = {
    "test_class_log.py", "test_hurts_offline.py", "test_late_child.py", "test_nothing_lost.py", "test_outbox.py",
    "test_sheet_taps.py", "test_story.py", "test_term.py",
}
# What is printed is read off the paper; its facts come from the same queries as the pages'.
PAPER_ONCE = {"test_awkward_pages.py", "test_paper.py"}
# Its rooms are looked at one by one, each by whoever is free; every other file stays whole.
ROOM_BY_ROOM = "test_rooms.py"


def asks_a_database(item: pytest.Item) -> bool:
    return bool(DATABASE & set(getattr(item, "fixturenames", ())) or item.get_closest_marker("django_db"))


def runs_once(item: pytest.Item) -> bool:
    """Whether a second database would say the same of it as the first."""
    if not asks_a_database(item) or item.path.name in PAPER_ONCE:
        return True
    return item.path.parent.name == "browser" and item.path.name not in BROWSER_ON_BOTH


def mark_what_runs_once(items: list[pytest.Item]) -> None:
    for item in items:
        if runs_once(item):
            item.add_marker("once")


def in_order(items: list[pytest.Item]) -> None:
    """Who looks at the studio on show comes last: its database stays the worker's till the end."""
    looks = {item.path for item in items if "_show" in getattr(item, "fixturenames", ())}
    strays = {item.path.name for item in items if item.path in looks and asks_a_database(item)
              and "_show" not in item.fixturenames}
    if strays:
        raise pytest.UsageError(f"Tests that look at the studio on show need a file of their own: {sorted(strays)}.")
    items.sort(key=lambda item: (item.path in looks, item.path.name == ROOM_BY_ROOM))


class FilesInOrder(LoadScopeScheduling):
    """Hands out whole files in the order of collection, so that those that come last come last on every worker."""

    def __init__(self, config: pytest.Config, log=None):
        super().__init__(config, log)
        config.option.loadscopereorder = False

    def _split_scope(self, nodeid: str) -> str:
        path, _, name = nodeid.partition("::")
        return f"{path}[{name.partition('[')[2]}" if path.endswith(ROOM_BY_ROOM) else path
