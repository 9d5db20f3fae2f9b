"""Writes of the measuring day: open, record, correct, close, and the catalogue; each atomic, each knows who acts."""
import datetime as dt
import json
import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from screening import scoring
from screening.models import Battery, BatteryMeasure, Measure, Protocol, Result, Screening, Target
from screening.queries import cells_of
from studio import ledger
from studio.actions import Refused
from studio.family.queries import consented
from studio.ledger import Conflict
from studio.models import ClassGroup, Consent, Deed, Enrolment, Stage, Student, Term, User


@dataclass(frozen=True)
class Entry:
    """What was seen of one attempt: a value, or the reason why there is none.

    at_least: the test was stopped there, below the protocol's cap, so the value is "at least" that much.
    is_first_side: this foot went before the other one; None where nobody knows, and a correction keeps what was known.
    protocol: the version that was measured by; None where nobody says, and a correction keeps its result's own.
    despite_rest: why it was recorded although the student should have rested; a correction keeps what was said.
    tapped_at: when, where a tablet kept it for a while; None is now.
    """

    value: Decimal | None = None
    reason_missing: str = ""
    fault: str = ""
    is_confirmed: bool = False
    at_least: bool = False
    is_first_side: bool | None = None
    protocol: Protocol | None = None
    despite_rest: str = ""
    tapped_at: dt.datetime | None = None


@transaction.atomic
def open_screening(
    *, class_group: ClassGroup, term: Term | None, battery: Battery, held_on: dt.date, name: str, by: User
) -> Screening:
    """Opens a measuring day; one that is open for the same class, day and battery is given back instead."""
    ClassGroup.objects.select_for_update(no_key=True).get(pk=class_group.pk)
    there = Screening.objects.filter(
        class_group=class_group, battery=battery, held_on=held_on, closed_at__isnull=True
    ).first()
    return there or Screening.objects.create(
        class_group=class_group, term=term, battery=battery, held_on=held_on, name=name, opened_by=by
    )


@transaction.atomic
def close_screening(*, screening: Screening, by: User) -> None:
    if screening.is_open:
        screening.closed_by, screening.closed_at = by, timezone.now()
        screening.save(update_fields=["closed_by", "closed_at"])


@transaction.atomic
def reopen_screening(*, screening: Screening, by: User) -> None:
    """Takes a closing back, so that a forgotten child can still be entered."""
    screening.closed_by = screening.closed_at = None
    screening.save(update_fields=["closed_by", "closed_at"])
    Deed.note(screening, Deed.REOPENED, by)


@transaction.atomic
def record_result(
    *, key: uuids.UUID, screening: Screening, student: Student, measure: Measure, side: str, entry: Entry, by: User,
    origin: uuids.UUID | None = None,
) -> Result:
    """Stores one attempt as the next of its child, measure and side.

    The same key twice gives the row that is there; the same key with other contents raises Conflict. Nothing
    already stored is ever overwritten: two tablets measuring one child make two attempts. origin: the tap that says
    it, where one tap says it of several.
    """
    there = Result.objects.filter(key=key).first()
    if there is not None:
        return _same_or_conflict(there, screening, student, measure, side, entry)
    if not Screening.objects.open_for(entry.tapped_at).filter(pk=screening.pk).exists():
        raise closed()
    if side not in measure.sides:
        raise Refused(_("This measure has no such side."))
    if not Enrolment.objects.filter(student=student, class_group=screening.class_group).exists():
        raise Refused(_("%(name)s is not in this class.") % {"name": student.name})
    if not consented([student.pk], Consent.MEASUREMENTS, timezone.now()):
        raise Refused(_("%(name)s is not measured: the family has not agreed to it.") % {"name": student.name})
    attempts = Result.objects.filter(
        screening=screening, student=student, measure=measure, side=side, supersedes__isnull=True
    )
    last = attempts.aggregate(last=Max("attempt"))["last"] or 0
    protocol = entry.protocol or measure.protocols.order_by("-version").first()
    try:
        with transaction.atomic():
            return _store(
                key=key, screening=screening, student=student, measure=measure, protocol=protocol, side=side,
                attempt=last + 1, taken_on=screening.held_on, entry=entry, by=by, origin=origin,
            )
    except IntegrityError:
        # The same key came from elsewhere at this very moment.
        there = Result.objects.filter(key=key).first()
        if there is None:
            raise
        return _same_or_conflict(there, screening, student, measure, side, entry)


def closed() -> Refused:
    return Refused(_("This screening is closed. Open it again to enter more."))


def leave_out(
    *, key: uuids.UUID, screening: Screening, student: Student, measures: Sequence[Measure], entry: Entry, by: User,
    origin: uuids.UUID | None = None,
) -> list[Result]:
    """Why there is no result, in every cell of these measures that has nothing yet. All rows have the tap for their
    origin and the first its key, the others keys made from it: sent twice, they are stored once."""
    cells = cells_of(screening, measures, [student], now=timezone.now()).values()
    return [
        record_result(
            key=uuids.uuid5(key, f"{screening.pk} {cell.measure.key} {cell.side}") if at else key, screening=screening,
            student=student, measure=cell.measure, side=cell.side, entry=entry, by=by, origin=origin or key,
        )
        for at, cell in enumerate(cell for cell in cells if cell.is_empty)
    ]


@transaction.atomic
def correct_result(*, key: uuids.UUID, result: Result, entry: Entry, by: User) -> Result:
    """Puts a new row in the place of what this one said, which stays; refused where something else stands there."""
    there = Result.objects.filter(key=key).first()
    if there is not None:
        return _same_or_conflict(there, result.screening, result.student, result.measure, result.side, entry)
    before = ledger.stands_for(result)
    return _store(key=key, measure=before.measure, protocol=before.protocol, entry=entry, by=by, before=before)


def _store(*, measure, protocol, entry: Entry, **where) -> Result:
    value, reached_cap = _capped(entry, measure, protocol)
    kept = {"assessor_name": ""} | where
    if entry.is_first_side is not None:
        kept["is_first_side"] = entry.is_first_side
    if entry.despite_rest:
        kept["despite_rest"] = entry.despite_rest
    return ledger.append(
        Result, measure=measure, protocol=protocol, value=value, reached_cap=reached_cap, fault=entry.fault,
        reason_missing=entry.reason_missing, is_confirmed=entry.is_confirmed, tapped_at=entry.tapped_at, **kept,
    )


def _capped(entry: Entry, measure: Measure, protocol: Protocol) -> tuple[Decimal | None, bool]:
    """The value as it is stored, and whether it is "at least" that much."""
    if entry.value is None or measure.kind not in (Measure.COUNT, Measure.SECONDS):
        return entry.value, False
    value, reached_cap = scoring.at_cap(entry.value, protocol.cap)
    return value, reached_cap or entry.at_least


def _same_or_conflict(there: Result, screening, student, measure, side: str, entry: Entry) -> Result:
    value, reached_cap = _capped(entry, measure, there.protocol)
    same = (
        there.screening_id == screening.pk and there.student_id == student.pk
        and there.measure_id == measure.pk and there.side == side
        and there.value == value and there.reason_missing == entry.reason_missing
        and there.reached_cap == reached_cap and there.fault == entry.fault
    )
    if not same:
        raise Conflict
    return there


# Stands before every version of the studio's own, so that it is never the one in use.
PAST_VERSION = 0


@transaction.atomic
def fill_in_catalogue() -> None:
    """Measures, batteries and targets from fixtures/; rows that are there keep what the owner made of them."""
    catalogue = json.loads((settings.BASE_DIR / "fixtures" / "measures.json").read_text(encoding="utf-8"))
    there = set(Measure.objects.values_list("key", flat=True))
    new = [(at, row) for at, row in enumerate(catalogue["measures"]) if row["key"] not in there]
    made = Measure.objects.bulk_create([_measure(at, row) for at, row in new])
    Protocol.objects.bulk_create(
        Protocol(measure=measure, version=1, **row["protocol"]) for measure, (_at, row) in zip(made, new, strict=True)
    )
    measures = {measure.key: measure for measure in Measure.objects.all()}
    _fill_in_batteries(catalogue["batteries"], measures)
    stages = {stage.key: stage for stage in Stage.objects.all()}
    known = set(Target.objects.values_list("measure__key", "stage__key"))
    Target.objects.bulk_create(
        Target(
            measure=measures[row["measure"]], stage=stages[row["stage"]], value=row["value"], basis=row["basis"],
            set_on=dt.date(2000, 1, 1),
        )
        for row in catalogue["targets"] if (row["measure"], row["stage"]) not in known
    )


def _fill_in_batteries(rows: list[dict], measures: dict[str, Measure]) -> None:
    there = set(Battery.objects.values_list("key", flat=True))
    new = [(at, row) for at, row in enumerate(rows) if row["key"] not in there]
    made = Battery.objects.bulk_create(Battery(key=row["key"], name=row["name"], position=at) for at, row in new)
    BatteryMeasure.objects.bulk_create(
        BatteryMeasure(battery=battery, measure=measures[key], position=at)
        for battery, (_at, row) in zip(made, new, strict=True) for at, key in enumerate(row["measures"])
    )


def _measure(position: int, row: dict) -> Measure:
    same = (
        "key", "name", "short_name", "family_name", "practice", "kind", "unit", "attempts", "score_rule",
        "direction", "loads_foot", "is_jump", "decimals", "pose", "clean_pose",
        "typical_error", "typical_error_other", "typical_error_basis", "typical_gain", "typical_gain_basis",
    )
    return Measure(
        position=position, hard_low=row["hard"][0], hard_high=row["hard"][1],
        soft_low=row["soft"][0], soft_high=row["soft"][1], **{name: row[name] for name in same if name in row},
    )


@transaction.atomic
def save_protocol(*, measure: Measure, changes: dict, by: User) -> Protocol:
    """A changed wording, cap or grade becomes the next version; unchanged, the current one stays."""
    Measure.objects.select_for_update().get(pk=measure.pk)
    current = measure.protocols.order_by("-version").first()
    fields = ("short_name", "instruction", "stop_rule", "cap", "beats_per_minute", "grades", "faults")
    new = {name: changes.get(name, getattr(current, name)) for name in fields}
    if all(new[name] == getattr(current, name) for name in fields):
        return current
    return Protocol.objects.create(measure=measure, version=current.version + 1, made_by=by, **new)


@transaction.atomic
def set_target(
    *, measure: Measure, stage: Stage, value: Decimal | None, basis: str, set_on: dt.date, by: User
) -> Target | None:
    """A new target row from that day on; the same value and source again changes nothing."""
    current = Target.objects.filter(measure=measure, stage=stage).order_by("-set_on", "-pk").first()
    if current is None and value is None:
        return None
    if current is not None and current.value == value and current.basis == basis:
        return current
    return Target.objects.create(
        measure=measure, stage=stage, value=value, basis=basis or _("studio’s own"), set_on=set_on, set_by=by
    )


@transaction.atomic
def save_measure(*, measure: Measure, by: User) -> None:
    measure.save()
    Deed.note(measure, Deed.CHANGED, by)


@transaction.atomic
def save_battery(*, battery: Battery, measures: list[Measure], by: User) -> None:
    """The battery with exactly these measures, in this order."""
    battery.save()
    battery.entries.all().delete()
    BatteryMeasure.objects.bulk_create(
        BatteryMeasure(battery=battery, measure=measure, position=at) for at, measure in enumerate(measures)
    )
    Deed.note(battery, Deed.CHANGED, by)


def import_results(*, plan, by: User | None) -> list[Result]:
    """Writes a checked plan's additions and changes into imported screenings, one a class and day.

    Gives the results that were made. All or nothing: called within the transaction of the judgement.
    """
    screenings: dict[tuple[int, dt.date], Screening] = {}
    made = []
    terms = list(Term.objects.all())
    for row in plan:
        if row.outcome not in ("add", "change"):
            continue
        where = (row.class_group.pk, row.on)
        if where not in screenings:
            term = next((t for t in terms if t.starts_on <= row.on <= t.ends_on), None)
            screenings[where], _made = Screening.objects.get_or_create(
                class_group=row.class_group, held_on=row.on, is_imported=True,
                defaults={"term": term, "opened_by": by, "closed_by": by, "closed_at": timezone.now()},
            )
        made.append(_store(
            key=uuids.uuid4(), screening=row.before.screening if row.before else screenings[where],
            student=row.student, measure=row.measure, protocol=_protocol_of_file(row, by), side=row.side,
            attempt=row.attempt, taken_on=row.on, entry=row.entry, by=row.assessor or by, before=row.before,
            assessor_name="" if row.assessor else row.assessor_name,
        ))
    return made


def _protocol_of_file(row, by: User | None) -> Protocol:
    """The row's protocol; that of past files, without a cap, is made when it is first wanted."""
    if row.protocol.pk is not None:
        return row.protocol
    made, _is_new = Protocol.objects.get_or_create(
        measure=row.measure, version=PAST_VERSION,
        defaults={
            "short_name": row.protocol.short_name, "instruction": row.protocol.instruction, "cap": None,
            "grades": row.protocol.grades, "made_by": by,
        },
    )
    return made
