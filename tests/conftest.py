"""The cast of every test: who owns, who teaches which class, who has no access, and a child out of reach."""
import datetime as dt
from dataclasses import dataclass

import pytest
from django.core.cache import cache
from hypothesis import settings as found_examples

from progress.actions.classwork.exercises import fill_in_exercises
from screening.actions import fill_in_catalogue
from screening.models import Battery, Measure, Screening
from studio.actions import make_stages
from studio.models import ClassGroup, Stage, Student, Studio, Term, User
from tests import engines, factories

# The same examples on every computer, however long one of them takes on a slow one.
found_examples.load_profile("ci")
# A Tuesday in the twelfth week of the cast's term.
TODAY = dt.date(2026, 3, 24)
PASSWORD = "barre-and-floor-barre"


@pytest.hookimpl(wrapper=True)
def pytest_collection_modifyitems(items):
    """Marks before `-m` chooses, and puts what it chose in order."""
    engines.mark_what_runs_once(items)
    yield
    engines.in_order(items)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    return engines.FilesInOrder(config, log) if config.option.dist == "loadfile" else None


@pytest.fixture(autouse=True)
def quick_and_quiet(settings):
    """Fast password hashing, plain static files, no lock-out between tests."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.AXES_ENABLED = False
    cache.clear()


@pytest.fixture
def on_the_day(time_machine):
    """The clock stands at five in the afternoon of TODAY."""
    time_machine.move_to(dt.datetime(2026, 3, 24, 17, 0, tzinfo=dt.UTC), tick=False)
    return TODAY


@dataclass
class Cast:
    """Everyone and everything a page needs. `out_of_reach` is in a class that no teacher has."""

    studio: Studio
    owner: User
    teacher: User
    other_teacher: User
    term: Term
    class_group: ClassGroup
    other_class: ClassGroup
    lonely_class: ClassGroup
    ama: Student
    bettina: Student
    other_student: Student
    out_of_reach: Student
    screening: Screening
    battery: Battery
    rises: Measure
    balance: Measure
    landing: Measure


@pytest.fixture
def cast(db, on_the_day) -> Cast:
    make_stages()
    fill_in_catalogue()
    fill_in_exercises()
    studio, _ = Studio.objects.update_or_create(pk=1, defaults={"name": "Larkmere Ballet Studio"})
    owner = User.objects.create_user("ottoline", password=PASSWORD, name="Ottoline Brack", role=User.OWNER)
    teacher = User.objects.create_user("davit", password=PASSWORD, name="Davit Meskhi")
    other_teacher = User.objects.create_user("selma", password=PASSWORD, name="Selma Quist")
    term = factories.TermFactory()
    groups = [factories.ClassGroupFactory(name=name) for name in ("Pre-pointe A", "Pre-pointe B", "Lonely class")]
    groups[0].teachers.add(teacher)
    groups[1].teachers.add(other_teacher)
    stage = Stage.objects.get(key="pre-pointe")
    names = {
        "Ama Owiredu": groups[0], "Bettina Krall": groups[0], "Greta Holmby": groups[1], "Zuzanna Hidden": groups[2],
    }
    children = []
    for day, (name, group) in enumerate(names.items(), start=1):
        child = factories.StudentFactory(name=name, stage=stage, birth_on=dt.date(2014, 5, day))
        factories.EnrolmentFactory(student=child, class_group=group, term=term)
        children.append(child)
    battery = Battery.objects.get(key="barre-check")
    screening = factories.ScreeningFactory(
        class_group=groups[0], term=term, battery=battery, opened_by=teacher, held_on=TODAY
    )
    return Cast(
        studio, owner, teacher, other_teacher, term, *groups, *children, screening, battery,
        *(Measure.objects.get(key=key) for key in ("rises", "passe-balance", "landing-control")),
    )


@pytest.fixture
def as_owner(client, cast):
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def as_teacher(client, cast):
    client.force_login(cast.teacher, backend="django.contrib.auth.backends.ModelBackend")
    return client
