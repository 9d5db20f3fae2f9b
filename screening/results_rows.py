"""What a row of past results means here, and what it would change: its student, protocol, value and foot."""
import datetime as dt
from dataclasses import dataclass, replace
from decimal import Decimal

from django.utils.translation import gettext

from screening import results_file, scoring
from screening.actions import PAST_VERSION, Entry
from screening.models import Measure, Protocol, Result
from screening.results_known import BESIDE, LEAVE, CapQuestion, KnownStudio, attempt_of, key_of_name
from screening.wording import write_value
from studio.models import ClassGroup, Student, User
from studio.roster_plan import fold


@dataclass(frozen=True)
class PlannedResult:
    """What would become of one row of the file; `before`: the stored result that a change replaces.

    at: its place among the rows that are read. `number` is its row in the file, which may hold several results.
    """

    number: int
    name: str
    outcome: str
    written: str
    measure: Measure | None = None
    student: Student | None = None
    class_group: ClassGroup | None = None
    protocol: Protocol | None = None
    side: str = ""
    attempt: int = 1
    on: dt.date | None = None
    entry: Entry | None = None
    assessor: User | None = None
    before: Result | None = None
    before_written: str = ""
    reasons: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    assessor_name: str = ""
    at: int = 0

    @property
    def has_tick(self) -> bool:
        """False where a tick could change nothing."""
        return self.outcome in ("add", "change", "leave")


def plan_row(at: int, row: results_file.ResultRow, studio: KnownStudio) -> PlannedResult:
    """What becomes of the row at this place among those that were read."""
    reasons, warnings = list(row.problems), list(row.warnings)
    measure, group = studio.measures.get(row.measure), studio.class_of(row)
    if group is None:
        reasons.append(gettext("No class is called “%(name)s”.") % {"name": row.class_name})
    met = _meet(row, group, studio) if group is not None else _Met()
    protocol = _protocol(row, measure, studio, reasons) if measure is not None else None
    entry = None
    if measure is not None and protocol is not None and not row.problems:
        entry = _entry(row, measure, protocol, reasons, warnings)
        _check_side(row, measure, reasons)
        _check_unit(row, measure, reasons)
    written = _write(entry, measure, protocol) if entry is not None else ""
    assessor = studio.people.get(fold(row.assessor)) if row.assessor else None
    if row.assessor and assessor is None:
        warnings.append(
            gettext("Nobody with a login is called “%(name)s”. The result is saved as measured by that name.")
            % {"name": row.assessor}
        )
    if met.student is not None and group is not None and row.on is not None:
        group = studio.class_on(met.student, group, row.on)
    made = PlannedResult(
        row.number, row.student_name, "refuse", written, measure, met.student, group, protocol, row.side, row.attempt,
        row.on, entry, assessor, reasons=(*reasons, *met.reasons), warnings=tuple(warnings),
        assessor_name=row.assessor, at=at,
    )
    if reasons or met.outcome:
        return made if reasons else replace(made, outcome=met.outcome)
    cap = studio.caps.get(row.measure)
    if cap is not None and not cap.answer and not row.protocol:
        question = gettext(
            "The file counts up to %(highest)s, but the limit here is %(cap)s. Say above how to read it."
        )
        as_it_stands = _write(Entry(row.value, row.reason_missing, at_least=row.capped), measure, protocol)
        return replace(made, outcome="ask", written=as_it_stands, reasons=(question % _cap_words(cap),))
    return compare(made, studio)


def _cap_words(question: CapQuestion) -> dict[str, str]:
    return {"highest": f"{question.highest.normalize():f}", "cap": f"{question.cap.normalize():f}"}


@dataclass(frozen=True)
class _Met:
    """Whom a row means; or what becomes of the row without it ("ask", "leave", "refuse"), and why."""

    student: Student | None = None
    outcome: str = ""
    reasons: tuple[str, ...] = ()


def _meet(row: results_file.ResultRow, group: ClassGroup, studio: KnownStudio) -> _Met:
    found = studio.students_named(row, group)
    asked = studio.names.get(key_of_name(row, group))
    if asked is not None and len(found) != 1:
        if asked.answer == LEAVE:
            return _Met(outcome="leave", reasons=(gettext("Left out by hand."),))
        if not asked.answer:
            return _Met(outcome="ask", reasons=(asked.question, gettext("Say above who is meant.")))
        found = [studio.students[int(asked.answer)]]
    if len(found) == 1 and found[0].pk in studio.silent:
        return _Met(outcome="refuse", reasons=(gettext("The family has not agreed to measurements."),))
    if len(found) == 1:
        return _Met(found[0])
    if not row.student_name:
        return _Met()
    return _Met(
        outcome="refuse", reasons=(gettext("Nobody of this name was ever in %(class)s.") % {"class": group.name},))


def _protocol(row, measure: Measure, studio: KnownStudio, reasons: list[str]) -> Protocol | None:
    versions = studio.protocols[measure.pk]
    cap = studio.caps.get(measure.key)
    if not row.protocol and cap is not None and cap.answer == BESIDE:
        return versions.get(str(PAST_VERSION)) or _past_protocol(measure, studio.latest(measure))
    if not row.protocol:
        return studio.latest(measure)
    protocol = versions.get(row.protocol.strip().lower().removeprefix("version").strip())
    if protocol is None:
        reasons.append(gettext("This measure has no protocol “%(name)s”.") % {"name": row.protocol})
    return protocol


def _past_protocol(measure: Measure, latest: Protocol) -> Protocol:
    """What past files were counted by: not stored until it is wanted."""
    return Protocol(
        measure=measure, version=PAST_VERSION, short_name=gettext("as in a file of past results"), cap=None,
        instruction=gettext("How it was taken is not on record here."), grades=latest.grades,
    )


def _check_unit(row, measure: Measure, reasons: list[str]) -> None:
    wanted = {Measure.SECONDS: "s", Measure.COUNT: "rises", Measure.LENGTH: measure.unit}.get(measure.kind, "")
    if row.unit and row.unit != wanted:
        reasons.append(gettext("“%(value)s %(unit)s” does not fit: %(measure)s is written in %(wanted)s.") % {
            "value": row.value, "unit": row.unit, "measure": measure, "wanted": measure.unit or wanted})


def _check_side(row, measure: Measure, reasons: list[str]) -> None:
    if measure.has_sides and not row.side:
        reasons.append(gettext("Say which foot: left or right."))
    elif not measure.has_sides and row.side:
        reasons.append(gettext("This measure has no sides."))


def _entry(row, measure: Measure, protocol: Protocol, reasons: list[str], warnings: list[str]) -> Entry | None:
    if row.reason_missing:
        return Entry(reason_missing=row.reason_missing)
    value = row.value
    if row.value_text:
        words = {fold(word): grade for grade, (word, _anchor) in enumerate(protocol.grades)}
        if fold(row.value_text) not in words:
            reasons.append(gettext("“%(text)s” is no value of this measure.") % {"text": row.value_text})
            return None
        value = Decimal(words[fold(row.value_text)])
    if value is None:
        return None
    if scoring.parse_value(f"{value:f}", measure.decimals) is None:
        reasons.append(gettext("%(value)s has too many decimal places.") % {"value": value})
        return None
    limits = scoring.Range(measure.hard_low, measure.hard_high, measure.soft_low, measure.soft_high)
    judged = limits.judge(value)
    if judged == "refuse":
        reasons.append(gettext("%(value)s is not possible: from %(low)s to %(high)s.") % {
            "value": value, "low": f"{measure.hard_low.normalize():f}", "high": f"{measure.hard_high.normalize():f}"})
        return None
    if judged == "ask" and protocol.cap is None:
        warnings.append(gettext("Unusual: please look at it once more."))
    if measure.kind not in (Measure.COUNT, Measure.SECONDS):
        return Entry(value=value)
    value, reached_cap = scoring.at_cap(value, protocol.cap)
    return Entry(value=value, at_least=reached_cap or row.capped)


def _write(entry: Entry, measure: Measure, protocol: Protocol) -> str:
    if entry.value is None:
        return str(dict(Result.REASONS).get(entry.reason_missing, ""))
    return write_value(entry.value, measure, protocol, capped=entry.at_least)


def compare(made: PlannedResult, studio: KnownStudio) -> PlannedResult:
    """The row as an addition, as a change of what is stored, or as the same."""
    before = studio.results.get(attempt_of_row(made))
    if before is None:
        return replace(made, outcome="add")
    stored = Entry(before.value, before.reason_missing, at_least=before.reached_cap)
    same = (stored.value, stored.reason_missing, stored.at_least) == (
        made.entry.value, made.entry.reason_missing, made.entry.at_least
    )
    text = _write(stored, before.measure, before.protocol)
    return replace(made, outcome="same" if same else "change", before=before, before_written=text)


def attempt_of_row(row: PlannedResult) -> tuple:
    return attempt_of(row.class_group.pk, row.student.pk, row.measure.pk, row.side, row.attempt, row.on)
