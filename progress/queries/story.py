"""Reads everything that was seen of a student and done for them, as one time line, newest first."""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial

from django.db.models import Prefetch
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models import Attendance, FollowUpNote, LogEntry, PainAnswer
from progress.queries import agreed_follow_ups
from progress.queries.classwork.class_log import day_words
from progress.queries.growth import readings, since_words
from progress.queries.judged import counted
from progress.queries.pain import answer_words, effect_words, report_words
from progress.queries.pointe_weeks import times_in_force
from progress.queries.reviews import may_tell, reviews_of
from progress.rules.pointe_points import BY_KEY
from progress.rules.pointe_weeks import NOT_ASKED
from progress.words.speech import side_word
from screening.models import Measure, Protocol, Result
from screening.queries import Score, scores
from screening.wording import write_value
from studio.family.queries import agreed_scopes
from studio.models import Consent, Student, User
from studio.templatetags.wording import write_number

MEASURED, PAIN, FOLLOW_UPS, REVIEWS, CLASSES, GROWTH, WORK = (
    "measured", "pain", "follow-ups", "reviews", "classes", "growth", "work",
)
KINDS = (
    (MEASURED, gettext_lazy("measured")), (PAIN, gettext_lazy("pain and the way back")),
    (FOLLOW_UPS, gettext_lazy("follow-ups and notes")), (REVIEWS, gettext_lazy("pointe work")),
    (CLASSES, gettext_lazy("classes and stages")), (GROWTH, gettext_lazy("growth")),
    (WORK, gettext_lazy("work in class")),
)


# What must be agreed before it is told; follow-ups are looked at one by one.
NEEDS = {
    MEASURED: Consent.MEASUREMENTS, GROWTH: Consent.MEASUREMENTS, WORK: Consent.MEASUREMENTS,
    REVIEWS: Consent.MEASUREMENTS, PAIN: Consent.PAIN,
}


@dataclass(frozen=True)
class StoryEntry:
    """One entry. `at` orders entries of one day; `who`: the one who wrote it; `address`: where it can be looked at;
    `hurts`: it is a report of pain, which may raise its voice."""

    on: dt.date
    at: dt.datetime | None
    kind: str
    words: str
    who: str = ""
    address: str = ""
    hurts: bool = False


def story(student: Student, *, now: dt.datetime, kind: str = "") -> list[StoryEntry]:
    """Every entry of one kind, or all of them, newest first, as far as the family agreed.

    A fixed number of questions, however long the story.
    """
    agreed, told = agreed_scopes(student, now), []
    for key, read in (
        (MEASURED, _measured),
        (PAIN, _pain),
        (FOLLOW_UPS, partial(_follow_ups, now=now)),
        (REVIEWS, partial(_reviews, agreed=agreed)),
        (CLASSES, _classes),
        (GROWTH, _growth),
        (WORK, _work),
    ):
        if kind in ("", key) and NEEDS.get(key, "") in {"", *agreed}:
            told += read(student)
    first = dt.datetime.min.replace(tzinfo=dt.UTC)
    return sorted(told, key=lambda entry: (entry.on, entry.at or first), reverse=True)


def _measured(student: Student) -> Iterable[StoryEntry]:
    """A day's results in one entry: "Rises: left 14, right 15; balance: left 8 s, right 9.5 s"."""
    measures = {m.pk: m for m in Measure.objects.all()}
    protocols = Protocol.objects.in_bulk()
    people = dict(User.objects.values_list("pk", "name"))
    by_day: dict[tuple, list[Score]] = defaultdict(list)
    for score in scores(counted(Result.objects.filter(student=student))):
        by_day[score.on, score.screening_id].append(score)
    for (on, _screening), found in by_day.items():
        found.sort(key=lambda s: (measures[s.measure_id].position, s.side))
        words: dict[Measure, list[str]] = {}
        for score in found:
            measure = measures[score.measure_id]
            value = write_value(score.value, measure, protocols[score.protocol_id], capped=score.capped)
            words.setdefault(measure, []).append(f"{side_word(score.side)} {value}".strip())
        text = "; ".join(f"{_(measure.short_name)}: {', '.join(values)}" for measure, values in words.items())
        yield StoryEntry(
            on, None, MEASURED, capfirst(text), found[0].assessor_name or people.get(found[0].recorded_by_id, ""),
            reverse("progress:results", args=[student.pk]),
        )


def _pain(student: Student) -> Iterable[StoryEntry]:
    answers = Prefetch("answers", PainAnswer.objects.select_related("by"))
    for row in student.pain_reports.select_related("reported_by").prefetch_related(answers):
        address = reverse("progress:pain-next-step", args=[row.pk])
        words = "; ".join(part for part in (report_words(row), effect_words(row), row.note) if part)
        yield StoryEntry(row.reported_on, row.reported_at, PAIN, _("It hurt: %(words)s") % {"words": words},
                   row.reported_by.name, address, hurts=True)
        for answer in row.answers.all():
            words = answer_words(answer)
            yield StoryEntry(timezone.localdate(answer.received_at), answer.received_at, PAIN, capfirst(words),
                       answer.by.name, address)
    for step in student.return_steps.select_related("ladder", "by"):
        kind = step.get_kind_display()
        words = _("Way back, %(kind)s: %(step)s") % {"kind": kind, "step": f"{step.step}, {_(step.words)}"}
        yield StoryEntry(step.on, step.at, PAIN, f"{words}. {step.note}" if step.note else words, step.by.name,
                   reverse("progress:way-back", args=[student.pk]))


def _follow_ups(student: Student, *, now: dt.datetime) -> Iterable[StoryEntry]:
    seen = agreed_follow_ups(student.follow_ups.all(), at=now)
    rows = seen.select_related("measure", "acts").prefetch_related(
        Prefetch("notes", FollowUpNote.objects.select_related("by"))
    )
    for row in rows:
        address = reverse("progress:follow-up", args=[row.pk])
        about = ", ".join(str(part) for part in (_(row.measure.short_name) if row.measure else "",
                                                 side_word(row.side)) if part)
        name = f"{row.get_kind_display()} ({about})" if about else row.get_kind_display()
        yield StoryEntry(row.opened_on, row.opened_at, FOLLOW_UPS, _("%(what)s: follow-up opened") % {"what": name},
                   "", address)
        for note in row.notes.all():
            head = name if note.kind == FollowUpNote.NOTE else f"{name}, {note.get_kind_display()}"
            yield StoryEntry(timezone.localdate(note.at), note.at, FOLLOW_UPS, f"{head}: {note.text}",
                       note.by.name if note.by else "", address)


def _reviews(student: Student, *, agreed: frozenset[str]) -> Iterable[StoryEntry]:
    """That a review was opened, every view with whose it is, and every decision, changed ones too."""
    address = reverse("progress:review", args=[student.pk])
    for review in reviews_of(student):
        yield StoryEntry(review.opened_on, review.opened_at, REVIEWS, ". ".join(
            part for part in (_("A pointe review was opened"), review.why) if part), review.opened_by.name, address)
        for row in review.seen.all():
            if may_tell(row, agreed):
                words = f"{_(BY_KEY[row.point].title)}: {row.get_answer_display()}. {row.words}".strip()
                yield StoryEntry(row.said_on, row.at, REVIEWS, words, row.who, address)
        for made in review.decisions.all():
            words = _("Decided: %(what)s") % {"what": made.decided}
            yield StoryEntry(made.decided_on, made.at, REVIEWS, words, made.by.name, address)
    yield from _on_pointe(student, agreed)


def _on_pointe(student: Student, agreed: frozenset[str]) -> Iterable[StoryEntry]:
    """Steps and minutes of the first weeks; what was said of heel and big toe only with consent to pain notes."""
    address = reverse("progress:student-pointe", args=[student.pk])
    for step in student.pointe_steps.select_related("ladder", "by"):
        words = _("Step on pointe: %(words)s, %(n)s minutes") % {"words": _(step.words), "n": step.minutes}
        words = f"{words}. {step.note}" if step.note else words
        yield StoryEntry(step.on, step.at, REVIEWS, words, step.by.name, address)
    for row in times_in_force([student.pk]).get(student.pk, {}).values():
        words = _("%(n)s minutes on pointe") % {"n": row.minutes}
        if Consent.PAIN in agreed and row.said != NOT_ASKED:
            words = _("%(words)s; heel and big toe: %(said)s") % {"words": words, "said": row.get_said_display()}
        yield StoryEntry(row.held_on, row.at, REVIEWS, words, row.by.name, address)


def _classes(student: Student) -> Iterable[StoryEntry]:
    address = reverse("progress:edit-student", args=[student.pk])
    for row in student.enrolments.for_a_day_at_least().select_related("class_group", "term", "enrolled_by"):
        where = {"class": row.class_group.name, "term": row.term.name}
        yield StoryEntry(row.joined_on, None, CLASSES, _("Joined %(class)s, %(term)s") % where,
                   row.enrolled_by.name if row.enrolled_by else "", address)
        if row.left_on:
            yield StoryEntry(row.left_on, None, CLASSES, _("Left %(class)s, %(term)s") % where, "", address)
    for change in student.stage_changes.select_related("stage", "by"):
        yield StoryEntry(change.on, change.at, CLASSES, _("Stage: %(stage)s") % {"stage": change.stage},
                   change.by.name if change.by else "", address)


def _growth(student: Student) -> Iterable[StoryEntry]:
    address = reverse("progress:heights", args=[student.pk])
    rows = list(student.heights.saying().select_related("by"))
    before = None
    for row, now in zip(rows, readings(rows), strict=True):
        words = _("Height %(cm)s cm") % {"cm": write_number(now.height_cm, 1)}
        if before is not None:
            words += ", " + since_words(before, now, None)
        before = now
        yield StoryEntry(row.measured_on, row.received_at, GROWTH, words, row.by.name, address)


def _work(student: Student) -> Iterable[StoryEntry]:
    """A class in one entry: that the student was away, or what was done, in words where it differs from plan."""
    entries = defaultdict(list)
    rows = LogEntry.objects.in_force().filter(student=student, is_withdrawn=False).select_related("version")
    for entry in rows.order_by("pk"):
        entries[entry.log_id].append(entry)
    came = Attendance.objects.in_force().filter(student=student, is_present__isnull=False)
    for row in came.select_related("log__class_group", "by"):
        words = day_words(entries[row.log_id]) if row.is_present else _("away")
        yield StoryEntry(
            row.log.held_on, row.received_at, WORK, f"{row.log.class_group.name}: {words}", row.by.name,
            reverse("progress:student-work", args=[student.pk]),
        )
