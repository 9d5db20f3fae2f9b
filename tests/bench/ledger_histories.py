"""Plays random histories of taps on the ledger: `python -m tests.bench.ledger_histories [--runs N] [--seed N]`.

What stands and what Undo offers is held against the few lines of tests/histories.py: in the database (SQLite, or the
one that DATABASE_URL names), and after every tap and every hearing on each of two tablets, by the script that folds
what was told and what waits (static/js/ledger.js, in one node process).
"""
import argparse
import datetime as dt
import os
import random
from contextlib import contextmanager

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
django.setup()

from django.db import connection  # noqa: E402
from django.test.utils import setup_test_environment, teardown_test_environment  # noqa: E402

from studio.models import User  # noqa: E402
from tests import factories  # noqa: E402
from tests.histories import random_steps  # noqa: E402
from tests.ledger_player import LedgerPlayer, folds_alike  # noqa: E402


@contextmanager
def scratch_studio():
    """A student and two people in a database that is thrown away."""
    setup_test_environment()
    name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0)
    try:
        people = tuple(User.objects.create_user(each, name=each.title()) for each in ("ottoline", "davit"))
        yield factories.StudentFactory(), dt.date(2026, 3, 24), people
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)
        teardown_test_environment()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--runs", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    arguments = asked.parse_args()
    told = []
    with scratch_studio() as house:
        for run in range(arguments.runs):
            player = LedgerPlayer(*house)
            player.play(random_steps(random.Random(arguments.seed * 1_000_000 + run)))
            player.check()
            told.append(player.told())
    looks, wrong = sum(len(each["looks"]) for each in told), folds_alike(told)
    print(wrong or f"{arguments.runs} histories, {looks} looks at a tablet: the ledger, the script and the model agree "
          f"({connection.vendor}).")


if __name__ == "__main__":
    main()
