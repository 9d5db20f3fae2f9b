"""Brings the invented studio of fixtures/demo.json.xz in as if today were its last day; only into an empty studio."""
import datetime as dt
import json
import lzma
import uuid
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.utils import timezone

from progress.actions.standings import rebuild_standings
from progress.models import FollowUpNote
from screening.models import Protocol, Result
from studio.actions import Refused
from studio.models import ClassGroup, Student, Studio, Term, User
from studio.templatetags.wording import day as write_day

FILE = settings.BASE_DIR / "fixtures" / "demo.json.xz"
# Rows of the catalogue, which every studio has already: how the file names them instead of by their keys.
NAMED_BY = {
    "studio.stage": ("key",), "studio.user": ("username",), "screening.measure": ("key",),
    "screening.protocol": ("measure__key", "version"), "screening.battery": ("key",), "progress.exercise": ("key",),
    "progress.exerciseversion": ("exercise__key", "version"), "progress.ladder": ("key",),
    "progress.ladderstep": ("ladder__key", "position"),
}
# They begin on a Monday and are moved by whole weeks; everything else is as many days ago as it was.
BY_WEEKS = {"studio.term", "studio.holiday", "studio.enrolment", "studio.stagechange", "progress.programmeentry"}
# Rises were first counted in a class run that stopped here; then heel to the string, as the catalogue says.
OLD_CAP = 16
# Where a note names the day by which its follow-up is due.
DUE = "{due}"
SEASONS = ("Spring", "Summer", "Autumn")


@transaction.atomic
def fill_in_demo(*, today: dt.date) -> dict[str, Any]:
    """Two terms of three classes up to today. Refused where the studio has anything of its own already."""
    if Student.objects.exists() or ClassGroup.objects.exists() or Term.objects.exists():
        raise Refused("The studio has students, classes or terms already; the demo goes only into an empty one.")
    owner = User.objects.filter(role=User.OWNER).order_by("pk").first()
    if owner is None:
        raise Refused("The studio has no owner yet. Start with first_start, then load the demo.")
    told = json.loads(lzma.decompress(FILE.read_bytes()))
    if owner.name == "Owner":
        User.objects.filter(pk=owner.pk).update(**told["owner"])
    teacher, _made = User.objects.get_or_create(username=told["teacher"]["username"], defaults=told["teacher"])
    _make_second_protocol(owner)
    moved = _Moved(told, today, owner)
    Studio.objects.update_or_create(
        pk=1, defaults=told["studio"] | {"is_demo": True, "consent_asked_from": moved.first_term_starts_on}
    )
    for label in told["tables"]:
        moved.write(label)
    _say_what_day_it_is()
    if connection.vendor == "postgresql":
        _count_on(list(told["tables"]))
    rebuild_standings(today=today)
    return {"students": Student.objects.count(), "results": Result.objects.count(), "teacher": teacher}


class _Moved:
    """The file's rows with keys of this studio, on days that end today."""

    def __init__(self, told: dict[str, Any], today: dt.date, owner: User):
        self.tables, last = told["tables"], dt.date.fromisoformat(told["as_of"])
        self.days, self.now = today - last, timezone.now()
        # The file's last day is a Monday.
        self.weekdays = self.days.days % 7
        self.weeks = self.days - dt.timedelta(days=self.weekdays)
        self.keys = {label: _keys_of(label) for label in NAMED_BY}
        self.keys["studio.user"]["owner"] = owner.pk
        # What somebody made before, and then took away or not, keeps its keys.
        self.after = {
            label: apps.get_model(label)._base_manager.aggregate(last=models.Max("pk"))["last"] or 0
            for label in self.tables
        }

    @property
    def first_term_starts_on(self) -> dt.date:
        table = self.tables["studio.term"]
        at = table["columns"].index("starts_on")
        return min(dt.date.fromisoformat(row[at]) for row in table["rows"]) + self.weeks

    def write(self, label: str) -> None:
        table, model = self.tables[label], apps.get_model(label)
        fields = [model._meta.get_field(name) for name in table["columns"]]
        unsaid = [each for each in model._meta.concrete_fields if isinstance(each, models.UUIDField)
                  and each not in fields]
        for row in table["rows"]:
            values = {field.attname: self._value(label, field, value) for field, value in zip(fields, row, strict=True)}
            # One key a row where the file has none: the same on every computer.
            key = uuid.uuid5(uuid.NAMESPACE_OID, f"{label}|{row[0]}")
            instance = model(**{field.attname: key for field in unsaid}, **values)
            # Raw: as it was written then, with the moments of then.
            models.Model.save_base(instance, raw=True, force_insert=True)

    def _value(self, label: str, field: models.Field, value: Any) -> Any:
        if value is None:
            return None
        if field.primary_key:
            return value + self.after[label]
        if field.is_relation:
            about = field.related_model._meta.label_lower
            if about in self.keys:
                return self.keys[about][tuple(value) if isinstance(value, list) else value]
            return value + self.after[about]
        value = field.to_python(value)
        if field.name == "weekday":
            # All three classes meet today.
            return (value + self.weekdays) % 7
        by = self.weeks if label in BY_WEEKS else self.days
        if isinstance(value, dt.datetime):
            # Not even this evening is still to come.
            return min(timezone.make_aware(value.replace(tzinfo=None) + by), self.now)
        return value + by if isinstance(value, dt.date) else value


def _keys_of(label: str) -> dict[Any, int]:
    """What the file calls a row of the catalogue, to its key here."""
    rows = apps.get_model(label).objects.values_list("pk", *NAMED_BY[label])
    return {name[0] if len(name) == 1 else tuple(name): pk for pk, *name in rows}


def _make_second_protocol(owner: User) -> None:
    """The demo's rises changed their protocol once; results keep the one they were taken under."""
    old = Protocol.objects.get(measure__key="rises", version=1)
    same = ("short_name", "instruction", "stop_rule", "cap", "beats_per_minute", "grades", "faults")
    Protocol.objects.create(
        measure=old.measure, version=2, made_by=owner, **{name: getattr(old, name) for name in same}
    )
    old.short_name, old.cap = f"class run, stopped at {OLD_CAP}", OLD_CAP
    old.instruction = "Two fingers on the barre. Rise with the class, straight knee."
    old.save()


def _say_what_day_it_is() -> None:
    """Its terms have the names of their seasons, and notes name the day by which something is due."""
    for note in FollowUpNote.objects.filter(text__contains=DUE).select_related("follow_up"):
        note.text = note.text.replace(DUE, write_day(note.follow_up.due_on))
        note.save(update_fields=["text"])
    terms = list(Term.objects.order_by("starts_on"))
    for term, name in zip(terms, term_names(terms[-1].starts_on), strict=True):
        term.name = name
        term.save(update_fields=["name"])


def term_names(first: dt.date) -> tuple[str, str]:
    """The names of the finished term and of the running one, which begins on `first`: a year has three.

    >>> term_names(dt.date(2026, 10, 19)), term_names(dt.date(2026, 12, 28))
    (('Summer term 2026', 'Autumn term 2026'), ('Autumn term 2026', 'Spring term 2027'))
    """
    at = {12: 0, 1: 0, 2: 0, 3: 1, 4: 1, 5: 1, 6: 1}.get(first.month, 2)
    year = (first + dt.timedelta(weeks=4)).year
    return f"{SEASONS[at - 1]} term {year - (at == 0)}", f"{SEASONS[at]} term {year}"


def _count_on(labels: list[str]) -> None:
    """PostgreSQL gives the next keys after the file's, and counts its rows: else it looks for each through all."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [apps.get_model(each) for each in labels]):
            cursor.execute(statement)
        cursor.execute("ANALYZE")
