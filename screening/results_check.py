"""Reads a file of past results against the studio: who and what each row means, and what it would change."""
import datetime as dt
import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext

from screening import results_file, scoring
from screening.actions import PAST_VERSION, Entry
from screening.models import Measure, Protocol, Result
from screening.results_wide import long_sheet
from screening.wording import write_value
from studio.family.queries import withheld
from studio.file_check import FileCheck, order_of_dates
from studio.models import ClassGroup, Consent, Enrolment, Student, User
from studio.roster_check import named_by_classes
from studio.roster_plan import fold
from studio.sheet_file import Sheet, read_sheet
from studio.sheets.several import is_day

# How values above the cap of now are kept.
BESIDE, AT_CAP = "beside", "cap"


@dataclass(frozen=True)
class PlannedResult:
    """What would become of one row of the file; `before`: the stored result that a change replaces."""

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


@dataclass(frozen=True)
class CapQuestion:
    """A measure with values in the file above the most that its protocol counts now.

    answer: BESIDE, to keep them as they are beside the protocol, AT_CAP, to keep them as "at least" the cap, or "".
    """

    measure: Measure
    cap: Decimal
    highest: Decimal
    rows: int
    answer: str = ""


@dataclass(frozen=True)
class ResultsCheck(FileCheck):
    """The preview of a file of results; `plan`: PlannedResult of every row; `caps`: what must be said of caps."""

    caps: tuple[CapQuestion, ...] = ()

    @property
    def digest(self) -> str:
        text = "\n".join(
            f"{p.number}|{p.outcome}|{p.written}|{p.student and p.student.pk}|{p.before and p.before.pk}|{p.on}"
            f"|{p.measure and p.measure.pk}|{p.side}|{p.attempt}|{p.assessor and p.assessor.pk}|{p.assessor_name}"
            f"|{p.protocol and p.protocol.version}"
            for p in self.plan
        )
        return hashlib.sha256(text.encode()).hexdigest()[:24]


def open_results(content: bytes, filename: str, wanted: str = "") -> Sheet:
    """The file as a table of one result a row, of the sheets that are wanted; UnreadableFile where it is none."""
    sheet = read_sheet(content, filename, heading_score=results_file.heading_score, wanted=wanted)
    return long_sheet(sheet, _measure_words(Measure.objects.all()))


def _measure_words(measures: Iterable[Measure]) -> dict[str, str]:
    """What a file may call a measure -> its key."""
    return {
        word: measure.key for measure in measures
        for word in (measure.key, measure.name, measure.short_name, str(measure), gettext(measure.short_name))
    }


def guessed_columns(sheet: Sheet) -> dict[int, str]:
    """What each column is taken for; sheets that are called like days or classes say each row's day or class."""
    found = {index: name for index, name in results_file.guess_columns(sheet.headings).items() if name}
    if sheet.name_column is not None and "date" not in found.values() and all(map(is_day, sheet.taken_names)):
        return found | {sheet.name_column: "date"}
    return found | named_by_classes(sheet, found)


def check_results(
    sheet: Sheet, *, columns: Mapping[int, str], order: str, class_group: ClassGroup, today: dt.date,
    caps: Mapping[str, str] | None = None,
) -> ResultsCheck:
    """Every row read, understood and compared with the results there are; a fixed number of queries.

    caps: measure key -> BESIDE or AT_CAP, as a person answered where values lie above the cap of now.
    """
    found, used = order_of_dates(sheet, columns, results_file.DATE_FIELDS, order)
    studio = _Studio(class_group)
    words = _measure_words(studio.measures.values())
    reading = results_file.read_results(
        sheet, columns, date_order=used or "ambiguous", measures=words, today=today,
        measure_names=[gettext(m.short_name) for m in studio.measures.values()], gettext=gettext,
    )
    studio.caps = {q.measure.key: q for q in _cap_questions(reading.rows, studio, caps or {})}
    studio.load_results(row.on for row in reading.rows if row.on)
    return ResultsCheck(
        sheet=sheet, columns=dict(columns), order_found=found, order=used,
        problems=tuple(p for p in reading.problems if p.row_number is None),
        questions=tuple(q.message for q in reading.questions),
        plan=_refuse_repeated([_plan(row, studio) for row in reading.rows]), caps=tuple(studio.caps.values()),
    )


def _cap_questions(
    rows: Iterable[results_file.ResultRow], studio: "_Studio", answers: Mapping[str, str]
) -> Iterable[CapQuestion]:
    """For each measure whose protocol has a cap: the values above it that name no protocol of their own."""
    above: dict[str, list[Decimal]] = defaultdict(list)
    for row in rows:
        measure = studio.measures.get(row.measure)
        if measure is None or row.value is None or row.protocol or row.problems:
            continue
        cap = studio.latest(measure).cap
        if cap is not None and cap < row.value <= measure.hard_high:
            above[measure.key].append(row.value)
    for key, values in above.items():
        answer = answers.get(key, "")
        yield CapQuestion(
            studio.measures[key], studio.latest(studio.measures[key]).cap, max(values), len(values),
            answer if answer in (BESIDE, AT_CAP) else "",
        )


def _refuse_repeated(plan: list[PlannedResult]) -> tuple[PlannedResult, ...]:
    """Two rows that turn out to mean the same attempt: the second is refused."""
    taken: dict[tuple, int] = {}
    made = []
    for row in plan:
        if row.outcome not in ("refuse", "ask"):
            key = (row.class_group.pk, row.student.pk, row.measure.pk, row.side, row.attempt, row.on)
            if key in taken:
                reason = gettext("The same attempt as row %(number)s.") % {"number": taken[key]}
                row = replace(row, outcome="refuse", reasons=(reason,))
            else:
                taken[key] = row.number
        made.append(row)
    return tuple(made)


@dataclass
class _Studio:
    """What the rows are compared with, read once."""

    class_group: ClassGroup
    measures: dict[str, Measure] = field(init=False)
    students: dict[tuple[int, str], list[Student]] = field(init=False)

    def __post_init__(self) -> None:
        self.measures = {measure.key: measure for measure in Measure.objects.all()}
        self.classes = {fold(group.name): group for group in ClassGroup.objects.all()}
        self.people = _people()
        self.caps: dict[str, CapQuestion] = {}
        self.protocols: dict[int, dict[str, Protocol]] = defaultdict(dict)
        for protocol in Protocol.objects.order_by("version"):
            self.protocols[protocol.measure_id][str(protocol.version)] = protocol
        self.students = defaultdict(list)
        for enrolment in Enrolment.objects.select_related("student").order_by("student_id"):
            known = self.students[enrolment.class_group_id, fold(enrolment.student.name)]
            if enrolment.student not in known:
                known.append(enrolment.student)
        self.silent = set(withheld(Consent.MEASUREMENTS, timezone.now()).values_list("pk", flat=True))
        self.results: dict[tuple, Result] = {}

    def latest(self, measure: Measure) -> Protocol:
        return list(self.protocols[measure.pk].values())[-1]

    def load_results(self, days: Iterable[dt.date]) -> None:
        days = list(days)
        if not days:
            return
        rows = Result.objects.in_force().filter(taken_on__gte=min(days), taken_on__lte=max(days))
        for row in rows.select_related("screening", "protocol", "measure"):
            key = (row.screening.class_group_id, row.student_id, row.measure_id, row.side, row.attempt, row.taken_on)
            # What was taken back is met as well, so that it comes in as a change; a result that counts goes first.
            if row.reason_missing != Result.WITHDRAWN or key not in self.results:
                self.results[key] = row


def _people() -> dict[str, User]:
    """Everybody who works here by their name, and by the first one where only one person has it."""
    people = list(User.objects.all())
    firsts = Counter(fold(user.name.split(" ")[0]) for user in people if user.name)
    by_first = {fold(u.name.split(" ")[0]): u for u in people if u.name and firsts[fold(u.name.split(" ")[0])] == 1}
    return by_first | {fold(user.name): user for user in people}


def _plan(row: results_file.ResultRow, studio: _Studio) -> PlannedResult:
    reasons, warnings = list(row.problems), list(row.warnings)
    group = studio.classes.get(fold(row.class_name)) if row.class_name else studio.class_group
    measure = studio.measures.get(row.measure)
    if group is None:
        reasons.append(gettext("No class is called “%(name)s”.") % {"name": row.class_name})
    student = _student(row, group, studio, reasons) if group is not None else None
    protocol = _protocol(row, measure, studio, reasons) if measure is not None else None
    entry = None
    if measure is not None and protocol is not None and not row.problems:
        entry = _entry(row, measure, protocol, reasons, warnings)
        _check_side(row, measure, reasons)
        _check_unit(row, measure, reasons)
    written = ""
    if entry is not None:
        written = _write(entry, measure, protocol)
    assessor = studio.people.get(fold(row.assessor)) if row.assessor else None
    if row.assessor and assessor is None:
        warnings.append(
            gettext("Nobody with a login is called “%(name)s”; the result is kept as measured by that name.")
            % {"name": row.assessor}
        )
    made = PlannedResult(
        row.number, row.student_name, "refuse", written, measure, student, group, protocol, row.side, row.attempt,
        row.on, entry, assessor, reasons=tuple(reasons), warnings=tuple(warnings), assessor_name=row.assessor,
    )
    if reasons:
        return made
    cap = studio.caps.get(row.measure)
    if cap is not None and not cap.answer and not row.protocol:
        question = gettext("The file counts up to %(highest)s, and here it stops at %(cap)s. Say above how to keep it.")
        as_it_stands = _write(Entry(row.value, row.reason_missing, at_least=row.capped), measure, protocol)
        return replace(made, outcome="ask", written=as_it_stands, reasons=(question % _cap_words(cap),))
    return _compare(made, studio)


def _cap_words(question: CapQuestion) -> dict[str, str]:
    return {"highest": f"{question.highest.normalize():f}", "cap": f"{question.cap.normalize():f}"}


def _student(row, group: ClassGroup, studio: _Studio, reasons: list[str]) -> Student | None:
    found = studio.students.get((group.pk, fold(row.student_name)), [])
    if row.birth_on is not None:
        found = [s for s in found if s.birth_on == row.birth_on]
    if not found and row.student_name:
        reasons.append(gettext("Nobody of this name was ever in %(class)s.") % {"class": group.name})
    elif len(found) == 1 and found[0].pk in studio.silent:
        reasons.append(gettext("The family has not agreed to measurements."))
    elif len(found) > 1:
        reasons.append(gettext("Several students have this name. A birth date is needed to tell them apart."))
    return found[0] if len(found) == 1 else None


def _protocol(row, measure: Measure, studio: _Studio, reasons: list[str]) -> Protocol | None:
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


def _compare(made: PlannedResult, studio: _Studio) -> PlannedResult:
    key = (made.class_group.pk, made.student.pk, made.measure.pk, made.side, made.attempt, made.on)
    before = studio.results.get(key)
    if before is None:
        return replace(made, outcome="add")
    stored = Entry(before.value, before.reason_missing, at_least=before.reached_cap)
    same = (stored.value, stored.reason_missing, stored.at_least) == (
        made.entry.value, made.entry.reason_missing, made.entry.at_least
    )
    text = _write(stored, before.measure, before.protocol)
    return replace(made, outcome="same" if same else "change", before=before, before_written=text)
