"""What rows of past results are compared with, read once; and what a person is asked about measures and names."""
import datetime as dt
import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext

from screening import results_file
from screening.models import Measure, Protocol, Result
from studio.family.queries import withheld
from studio.models import ClassGroup, Consent, Enrolment, Student, User
from studio.roster_plan import fold
from studio.sheets.likeness import may_be_same_name
from studio.templatetags.wording import full_day

# How values above the cap of now are kept.
BESIDE, AT_CAP = "beside", "cap"
# The answer that a name, or a row, is left out.
LEAVE = "leave"


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
class NameQuestion:
    """A name of the file that is nobody's for certain: whom its rows could mean. One answer counts for all of them.

    choices: (student's key, words). answer: a student's key as text, LEAVE, or "" while nobody has said.
    """

    key: str
    name: str
    class_group: ClassGroup
    question: str
    choices: tuple[tuple[str, str], ...]
    rows: int = 1
    answer: str = ""


Attempt = tuple[int, int, int, str, int, dt.date]


def attempt_of(group_id: int, student_id: int, measure_id: int, side: str, attempt: int, on: dt.date) -> Attempt:
    """What is one attempt: class, student, measure, foot, number and day."""
    return group_id, student_id, measure_id, side, attempt, on


def stored_results(days: Iterable[dt.date]) -> dict[Attempt, Result]:
    """The results in force from the first to the last of these days."""
    days = list(days)
    found: dict[Attempt, Result] = {}
    if not days:
        return found
    rows = Result.objects.in_force().filter(taken_on__gte=min(days), taken_on__lte=max(days))
    for row in rows.select_related("screening", "protocol", "measure"):
        key = attempt_of(
            row.screening.class_group_id, row.student_id, row.measure_id, row.side, row.attempt, row.taken_on)
        # What was taken back is met as well, so that it comes in as a change; a result that counts goes first.
        if row.reason_missing != Result.WITHDRAWN or key not in found:
            found[key] = row
    return found


def key_of_name(row: results_file.ResultRow, group: ClassGroup) -> str:
    """Short mark of a name in a class, the same for each of its rows."""
    return hashlib.sha256(f"{fold(row.student_name)}|{row.birth_on}|{group.pk}".encode()).hexdigest()[:12]


@dataclass
class KnownStudio:
    """What the rows are compared with. caps, names: what is asked, by measure key and by `key_of_name`."""

    class_group: ClassGroup
    caps: dict[str, CapQuestion] = field(default_factory=dict)
    names: dict[str, NameQuestion] = field(default_factory=dict)
    results: dict[Attempt, Result] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.measures = {measure.key: measure for measure in Measure.objects.all()}
        self.classes = {fold(group.name): group for group in ClassGroup.objects.all()}
        self.people = _people()
        self.protocols: dict[int, dict[str, Protocol]] = defaultdict(dict)
        for protocol in Protocol.objects.order_by("version"):
            self.protocols[protocol.measure_id][str(protocol.version)] = protocol
        self.students: dict[int, Student] = {}
        self.members: dict[int, set[int]] = defaultdict(set)
        self.in_classes: dict[int, list[Enrolment]] = defaultdict(list)
        rows = Enrolment.objects.filter(student__is_nameless=False).select_related("student", "class_group", "term")
        for enrolment in rows.order_by("joined_on", "pk"):
            student = enrolment.student
            self.students[student.pk] = student
            self.members[enrolment.class_group_id].add(student.pk)
            self.in_classes[student.pk].append(enrolment)
        self.by_name: dict[str, list[int]] = defaultdict(list)
        for key, student in sorted(self.students.items()):
            self.by_name[fold(student.name)].append(key)
        self.silent = set(withheld(Consent.MEASUREMENTS, timezone.now()).values_list("pk", flat=True))

    def latest(self, measure: Measure) -> Protocol:
        return list(self.protocols[measure.pk].values())[-1]

    def class_of(self, row: results_file.ResultRow) -> ClassGroup | None:
        """The class that the row names, else that of the whole file; None where no class is called so."""
        return self.classes.get(fold(row.class_name)) if row.class_name else self.class_group

    def students_named(self, row: results_file.ResultRow, group: ClassGroup) -> list[Student]:
        """Everybody of this name who was ever in the class; of the row's birth date, where it has one."""
        found = [self.students[pk] for pk in self.by_name[fold(row.student_name)] if pk in self.members[group.pk]]
        return [s for s in found if row.birth_on is None or s.birth_on == row.birth_on]

    def class_on(self, student: Student, group: ClassGroup, on: dt.date) -> ClassGroup:
        """The class of the file where the student was ever in it; else the student's own of that day, or the last."""
        if student.pk in self.members[group.pk]:
            return group
        own = self.in_classes[student.pk]
        then = [e for e in own if e.joined_on <= on <= e.term.ends_on and (e.left_on is None or on < e.left_on)]
        return (then or own)[-1].class_group

    def ask_names(self, rows: Iterable[results_file.ResultRow], answers: Mapping[str, str]) -> None:
        """Takes down each name that is nobody's for certain, and could be somebody's, with its answer."""
        for row in rows:
            group = self.class_of(row)
            if group is None or not row.student_name or row.problems:
                continue
            key = key_of_name(row, group)
            if key in self.names:
                self.names[key] = replace(self.names[key], rows=self.names[key].rows + 1)
            elif len(self.students_named(row, group)) != 1:
                question, could_be = self._could_be(row, group)
                choices = tuple((str(s.pk), self._words(s)) for s in could_be)
                answer = answers.get(key, "")
                known = answer == LEAVE or answer in dict(choices)
                if choices:
                    self.names[key] = NameQuestion(
                        key, row.student_name, group, question, choices, answer=answer if known else "")

    def _could_be(self, row: results_file.ResultRow, group: ClassGroup) -> tuple[str, list[Student]]:
        """(the question, whom the row could mean): namesakes, then names alike in the class, then elsewhere."""
        named = self.students_named(row, group)
        if named:
            return gettext("Several students have this name. Which of them is meant?"), named
        here = [self.students[pk] for pk in sorted(self.members[group.pk])]
        alike = [s for s in here if may_be_same_name(row.student_name, s.name)]
        if alike:
            same = any(fold(s.name) == fold(row.student_name) for s in alike)
            if same:
                return gettext("A student of this name has another birth date here. The same student?"), alike
            return gettext("Somebody of a similar name was in this class. The same student?"), alike
        elsewhere = [self.students[pk] for pk in self.by_name[fold(row.student_name)]]
        fits = [s for s in elsewhere if row.birth_on is None or s.birth_on in (None, row.birth_on)]
        return gettext("A student of this name was in another class only. The same student?"), fits

    def _words(self, student: Student) -> str:
        """ "Ama Owiredu, born 1 May 2014, Pre-pointe A"."""
        born = gettext("born %(day)s") % {"day": full_day(student.birth_on)} if student.birth_on else ""
        return ", ".join(filter(None, (student.name, born, self.in_classes[student.pk][-1].class_group.name)))


def _people() -> dict[str, User]:
    """Everybody who works here by their name, and by the first one where only one person has it."""
    people = list(User.objects.all())
    firsts = Counter(fold(user.name.split(" ")[0]) for user in people if user.name)
    by_first = {fold(u.name.split(" ")[0]): u for u in people if u.name and firsts[fold(u.name.split(" ")[0])] == 1}
    return by_first | {fold(user.name): user for user in people}
