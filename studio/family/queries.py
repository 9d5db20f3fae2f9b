"""Reads who agreed to what, whose links stand, and whose records are due for erasure; changes nothing."""
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import BooleanField, Count, Exists, F, Max, Min, OuterRef, Prefetch, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from studio.family.models import Consent, GuardianKey
from studio.models import ClassGroup, Enrolment, Guardian, Student, Studio, Term
from studio.templatetags.wording import day, full_day

# What the studio itself records. Until the day from which it asks, a student of whom nothing is on record counts as
# agreed, so that an upgrade blanks no page. Sharing is done on a recorded consent only, whatever the studio asks.
RECORDED = frozenset({Consent.MEASUREMENTS, Consent.PAIN})


def _agreement(scope: str, at: dt.datetime) -> Coalesce:
    """Whether a student (the outer row) stands consented at that instant: the latest fact, else the studio's rule."""
    latest = Consent.objects.filter(student=OuterRef("pk"), scope=scope, at__lte=at).order_by("-at", "-pk")
    asks = Exists(Studio.objects.filter(pk=1, consent_asked_from__lte=timezone.localdate(at)))
    silent = ~asks if scope in RECORDED else Value(False)
    return Coalesce(Subquery(latest.values("is_given")[:1]), silent, output_field=BooleanField())


def consented(student_ids: Iterable[int], scope: str, at: dt.datetime) -> set[int]:
    """Those of the students for whom this may be asked, kept and shown at that instant; one query."""
    students = Student.objects.filter(pk__in=list(student_ids)).annotate(agreed=_agreement(scope, at))
    return set(students.filter(agreed=True).values_list("pk", flat=True))


def withheld(scope: str, at: dt.datetime) -> QuerySet:
    """Keys of all students for whom it may not, to be left out of a question to the database."""
    return Student.objects.annotate(agreed=_agreement(scope, at)).filter(agreed=False).values("pk")


def agreed_scopes(student: Student, at: dt.datetime) -> frozenset[str]:
    """Everything that is agreed for one student at that instant; one query."""
    scopes = dict(Consent.SCOPES)
    row = Student.objects.filter(pk=student.pk).values(**{f"is_{scope}": _agreement(scope, at) for scope in scopes})
    return frozenset(scope for scope in scopes for found in row if found[f"is_{scope}"])


@dataclass(frozen=True)
class ScopeState:
    """One scope of one student: whether it stands, and the fact that says so, if there is one."""

    scope: str
    words: str
    is_agreed: bool
    last: Consent | None

    @property
    def closes_page(self) -> bool:
        return self.scope == Consent.FAMILY

    @property
    def holds(self) -> str:
        """yes or no."""
        return _("yes") if self.is_agreed else _("no")

    @property
    def on_record(self) -> str:
        """Who said so and when, for the staff."""
        if self.last:
            return f"{self.last.said_by}, {full_day(self.last.at)}"
        return _("nothing on record, not asked for yet") if self.is_agreed else _("nothing on record")


def scope_states(student: Student, at: dt.datetime) -> list[ScopeState]:
    agreed = agreed_scopes(student, at)
    last: dict[str, Consent] = {}
    for fact in student.consents.filter(at__lte=at).select_related("recorded_by").order_by("at", "pk"):
        last[fact.scope] = fact
    return [ScopeState(scope, str(words), scope in agreed, last.get(scope)) for scope, words in Consent.SCOPES]


@dataclass(frozen=True)
class GuardianLink:
    """A guardian and the standing key. `opened_at`: the first right birth date behind it; None: never opened."""

    guardian: Guardian
    key: GuardianKey | None
    opened_at: dt.datetime | None
    devices: int

    @property
    def words(self) -> str:
        """Whether there is a card, when it was first opened and on how many devices."""
        if self.key is None:
            return _("no card")
        if self.opened_at is None:
            return _("never opened")
        return ngettext("opened %(day)s, %(n)s device", "opened %(day)s, %(n)s devices", self.devices) % {
            "day": day(self.opened_at), "n": self.devices}

    @property
    def words_with_end(self) -> str:
        """The same, and until when it opens."""
        if self.key is None:
            return self.words
        return _("%(card)s, valid until %(day)s") % {"card": self.words, "day": day(self.key.valid_until)}


@dataclass(frozen=True)
class FamilyRow:
    """One student of a class as the owner's list of families shows them. `agreed`: scope to yes or no.

    `answered`: the scopes of which the family ever said anything; of the others a no is only a form not back yet.
    """

    student: Student
    agreed: dict[str, bool]
    answered: frozenset[str]
    links: tuple[GuardianLink, ...]

    @property
    def answers(self) -> list[tuple[str, bool]]:
        """(word, whether the family ever answered) of every scope, in their order."""
        yes, no, open_ = _("yes"), _("no"), _("no answer")
        return [
            (yes if self.agreed[scope] else no if scope in self.answered else open_,
             self.agreed[scope] or scope in self.answered)
            for scope, _words in Consent.SCOPES
        ]


def class_families(class_group: ClassGroup, term: Term | None, *, at: dt.datetime, today: dt.date) -> list[FamilyRow]:
    """The families of a class in a fixed number of queries, by the student's name."""
    enrolled = Enrolment.objects.in_term(term, today).filter(class_group=class_group)
    return _family_rows(enrolled, at=at, today=today)


def all_families(term: Term | None, *, at: dt.datetime, today: dt.date) -> list[FamilyRow]:
    """The families of everybody who dances today, as `class_families`."""
    return _family_rows(Enrolment.objects.in_term(term, today), at=at, today=today)


def _family_rows(enrolled: QuerySet, *, at: dt.datetime, today: dt.date) -> list[FamilyRow]:
    students = Student.objects.filter(pk__in=enrolled.values("student"))
    for scope, _words in Consent.SCOPES:
        students = students.annotate(**{f"agreed_{scope}": _agreement(scope, at)})
    guardians = Guardian.objects.prefetch_related(Prefetch("keys", open_keys(today), to_attr="standing"))
    rows = []
    for student in students.prefetch_related(Prefetch("guardians", guardians), "consents").order_by("name", "pk"):
        agreed = {scope: getattr(student, f"agreed_{scope}") for scope, _words in Consent.SCOPES}
        answered = frozenset(fact.scope for fact in student.consents.all() if fact.at <= at)
        rows.append(FamilyRow(student, agreed, answered, tuple(guardian_link(g) for g in student.guardians.all())))
    return rows


@dataclass(frozen=True)
class NoCard:
    """Somebody without a card that opens, and why; `guardian` None where nobody is on record."""

    student: Student
    guardian: Guardian | None
    why: str
    can_be_made: bool = False


def without_card(rows: Iterable[FamilyRow]) -> list[NoCard]:
    """Guardians and students without a card that opens, each with the reason, in the order of the students."""
    rows = list(rows)
    dated = {link.guardian.pk for row in rows if row.student.birth_on for link in row.links}
    shared = {link.guardian.pk for row in rows if row.agreed[Consent.FAMILY] for link in row.links}
    found: list[NoCard] = []
    for row in rows:
        if not row.links:
            found.append(NoCard(row.student, None, _("no guardian is on record")))
        for link in row.links:
            if link.key is not None or any(each.guardian == link.guardian for each in found):
                continue
            if link.guardian.pk not in shared:
                said_no = Consent.FAMILY in row.answered
                why = _("the family wants no page") if said_no else _("the form for the page is not back")
                found.append(NoCard(row.student, link.guardian, why))
            elif link.guardian.pk not in dated:
                found.append(NoCard(row.student, link.guardian, _("no birth date of a child is known")))
            else:
                found.append(NoCard(row.student, link.guardian, _("no card was made yet"), can_be_made=True))
    return found


def open_keys(today: dt.date) -> QuerySet[GuardianKey]:
    """Keys that open today, with when each was first opened and on how many devices."""
    right = Q(tries__was_right=True)
    still_open = Q(tries__was_right=True, tries__left_at__isnull=True)
    return GuardianKey.objects.filter(ended_at__isnull=True, valid_until__gte=today).annotate(
        opened_at=Min("tries__at", filter=right), devices=Count("tries", filter=still_open)
    )


def links_of(student: Student, *, today: dt.date) -> list[GuardianLink]:
    guardians = student.guardians.prefetch_related(Prefetch("keys", open_keys(today), to_attr="standing"))
    return [guardian_link(guardian) for guardian in guardians]


def guardian_link(guardian: Guardian) -> GuardianLink:
    """Of a guardian who was fetched with `standing` keys."""
    key = guardian.standing[0] if guardian.standing else None
    return GuardianLink(guardian, key, key.opened_at if key else None, key.devices if key else 0)


@dataclass(frozen=True)
class ErasureRow:
    student: Student
    left_on: dt.date
    due_on: dt.date


def due_for_erasure(studio: Studio, *, today: dt.date) -> list[ErasureRow]:
    """Students who left so long ago that their records are due, the longest due first.

    The last day in a class counts: the day of leaving, else the end of the term; without any class the first day here.
    """
    last_day = Max(Coalesce(F("enrolments__left_on"), F("enrolments__term__ends_on")))
    rows = []
    for student in Student.objects.filter(is_nameless=False).annotate(last_day=last_day):
        left_on = student.last_day or timezone.localdate(student.added_at)
        due_on = months_after(left_on, studio.months_kept)
        if due_on <= today:
            rows.append(ErasureRow(student, left_on, due_on))
    return sorted(rows, key=lambda row: (row.due_on, row.student.name))


def months_after(day: dt.date, months: int) -> dt.date:
    """The same day of the month so many months later, or that month's last day where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    first_of_next = dt.date(year + month // 11, (month + 1) % 12 + 1, 1)
    last = (first_of_next - dt.timedelta(days=1)).day
    return dt.date(year, month + 1, min(day.day, last))
