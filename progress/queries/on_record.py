"""Reads what is on record beside each point of a review: a student's own lines, growth, training, pain, faults.

Facts with their day, range and protocol; nothing is summed, compared or judged, and what is not there says so.
"""
import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.judging.judgement import Line
from progress.judging.line_record import read_line
from progress.models import LogEntry
from progress.queries.classwork.load import student_load
from progress.queries.growth import gentle_note, growth_of, pace_words
from progress.queries.judged import counted
from progress.queries.pain import answer_words, report_words, was_mistake
from progress.queries.papers.term_report import likely_words
from progress.queries.resting import steps_of
from progress.queries.student import student_standings
from progress.rules import pointe_points as points
from progress.words.speech import side_word, write_level_with_unit
from screening.models import Measure, Protocol, Result, Target
from screening.queries import Score, scores, targets_by_stage
from screening.wording import write_value
from studio.models import ClassGroup, ClassMeeting, Consent, Student, Term
from studio.templatetags.wording import day, full_day, write_number

# Pain of so long ago is told, and faults of so long ago are looked through: the studio's own rule.
PAIN_TOLD, FAULTS_READ = dt.timedelta(days=365), dt.timedelta(weeks=26)
# A fault is one that comes again where it was noted on so many days.
AGAIN_DAYS = 2


@dataclass(frozen=True)
class Fact:
    """One sentence on record. `soft`: its day and protocol; `link`: where what is missing can be done, in words."""

    words: str
    soft: str = ""
    link: str = ""
    link_words: str = ""


@dataclass(frozen=True)
class Asked:
    """Whose record is read, in which term, in which class, when, and what of it may be shown."""

    student: Student
    term: Term | None
    class_group: ClassGroup | None
    agreed: frozenset[str]
    today: dt.date
    now: dt.datetime


def on_record(asked: Asked) -> dict[str, list[Fact]]:
    """A point's key to what is on record beside it, in a fixed number of questions."""
    facts = defaultdict(list, {points.GROWTH: _growth(asked), points.TRAINING: _training(asked)})
    if Consent.PAIN in asked.agreed:
        facts[points.PAIN] = _pain(asked)
    for key, found in _measured(asked).items():
        facts[key] += found
    facts[points.ALIGNMENT] += seen_again(asked.student, asked.today)
    return facts


def _measured(asked: Asked) -> dict[str, list[Fact]]:
    """The measures by their point: those of this term, those of before, and which were never measured."""
    by_measure: dict[int, list[Score]] = defaultdict(list)
    for score in scores(counted(Result.objects.filter(student=asked.student))):
        by_measure[score.measure_id].append(score)
    standings = student_standings(asked.student, asked.term, now=asked.now)
    lines = {(row.measure_id, row.side): read_line(row.line) for row in standings}
    protocols, targets = Protocol.objects.in_bulk(), targets_by_stage()
    found, never = defaultdict(list), defaultdict(list)
    for measure in Measure.objects.all():
        point = points.point_of(measure.key)
        if not by_measure[measure.pk]:
            never[point].append(_(measure.short_name))
            continue
        target = targets.get((measure.pk, asked.student.stage_id))
        found[point].append(_measure(asked, measure, by_measure[measure.pk], lines, protocols, target))
    for point, names in never.items():
        found[point].append(Fact(_("Never measured: %(what)s.") % {"what": ", ".join(names)}, **_measure_it(asked)))
    return found


def _measure(
    asked: Asked, measure: Measure, told: list[Score], lines: dict[tuple[int, str], Line],
    protocols: dict[int, Protocol], target: Target | None,
) -> Fact:
    """ "Rises: left 18, likely 16 to 20; right 17. Target 20." and, beside it, when and by which protocol."""
    latest = {score.side: score for score in sorted(told, key=lambda s: (s.on, s.result_id))}
    last = max(score.on for score in told)
    protocol = protocols[max(told, key=lambda s: (s.on, s.result_id)).protocol_id]
    is_old = asked.term is None or last < asked.term.starts_on
    sides = [
        _side(measure, score, None if is_old else lines.get((measure.pk, side)), protocols, last)
        for side, score in sorted(latest.items())
    ]
    words = f"{measure}: {'; '.join(sides)}."
    if is_old:
        head = _("%(measure)s: not measured this term.") % {"measure": measure}
        words = f"{head} " + _("Last: %(values)s.") % {"values": "; ".join(sides)}
    elif target is not None:
        value = write_level_with_unit(float(target.value), measure, protocol)
        words += " " + _("Target of the stage: %(value)s (%(source)s).") % {
            "value": value, "source": _(target.basis) if target.basis else _("no source given")}
    return Fact(words, f"{_ago(last, asked.today)}; {_(protocol.short_name)}", **(_measure_it(asked) if is_old else {}))


def _side(
    measure: Measure, score: Score, line: Line | None, protocols: dict[int, Protocol], last: dt.date
) -> str:
    """ "left about 18, likely 16 to 20", where a line can be drawn; else the last result as it was seen."""
    protocol = protocols[score.protocol_id]
    likely = likely_words(line, measure, protocol) if line is not None else ""
    if likely:
        text = _("about %(level)s, likely %(likely)s") % {
            "level": write_level_with_unit(line.level, measure, protocol), "likely": likely}
    else:
        text = write_value(score.value, measure, protocol, capped=score.capped)
    text = f"{side_word(score.side)} {text}".strip()
    return text if score.on == last else f"{text} ({day(score.on)})"


def _ago(on: dt.date, today: dt.date) -> str:
    days = (today - on).days
    if days == 0:
        return _("measured today")
    return ngettext("measured %(n)s day ago, on %(day)s", "measured %(n)s days ago, on %(day)s", days) % {
        "n": days, "day": day(on) if on.year == today.year else full_day(on)}


def _measure_it(asked: Asked) -> dict[str, str]:
    if asked.class_group is None:
        return {}
    address = reverse("progress:open-screening", args=[asked.class_group.pk])
    return {"link": address, "link_words": _("Measure it")}


def _growth(asked: Asked) -> list[Fact]:
    student, told = asked.student, []
    age = student.age_on(asked.today)
    told.append(Fact(_("%(n)s years old.") % {"n": age} if age is not None else _("The birth date is not on record.")))
    link = {"link": reverse("progress:heights", args=[student.pk]), "link_words": _("Measure the height")}
    last = student.heights.saying().last()
    if last is None:
        return [*told, Fact(_("No height is on record."), **link)]
    told.append(Fact(_("Height %(cm)s cm") % {"cm": write_number(last.height_cm, 1)}, full_day(last.measured_on)))
    grown = growth_of(student, as_of=asked.today)
    if grown is None:
        return [*told, Fact(_("Two heights at least 90 days apart would say how fast."), **link)]
    return [*told, Fact(pace_words(grown), gentle_note(grown))]


def _training(asked: Asked) -> list[Fact]:
    student = asked.student
    details = {"link": reverse("progress:edit-student", args=[student.pk]), "link_words": _("Fill it in")}
    since, often = student.training_since_year, student.classes_per_week
    told = [
        Fact(_("In training since %(year)s.") % {"year": since}) if since
        else Fact(_("Since when in training: not on record."), **details),
        Fact(ngettext(
            "%(n)s class a week, by the student’s details.", "%(n)s classes a week, by the student’s details.", often
        ) % {"n": often}) if often
        else Fact(_("How often a week: not on record."), **details),
    ]
    first = student.enrolments.order_by("joined_on").first()
    if first is not None:
        classes = student.enrolments.filter(left_on__isnull=True, term=asked.term).values("class_group")
        met = ClassMeeting.objects.filter(class_group__in=classes).count()
        timetable = ngettext("%(n)s meeting a week in the timetable", "%(n)s meetings a week in the timetable", met)
        words = _("In classes here since %(day)s.") % {"day": full_day(first.joined_on)}
        told.append(Fact(words, timetable % {"n": met} if met else ""))
    load = student_load(student, asked.term, today=asked.today)
    if load is None:
        return [*told, Fact(_("Attendance: no class of this term is in the log."))]
    words = ngettext("Came to %(came)s of %(n)s logged class this term.",
                     "Came to %(came)s of %(n)s logged classes this term.", load.times_held)
    return [*told, Fact(words % {"came": load.times_came, "n": load.times_held})]


def _pain(asked: Asked) -> list[Fact]:
    """Every report of the last twelve months with what became of it, the newest first, and the way back."""
    student, told = asked.student, []
    since = asked.today - PAIN_TOLD
    for row in student.pain_reports.filter(reported_on__gte=since).prefetch_related("answers__by"):
        if not was_mistake(row):
            ended = capfirst(answer_words(row.answer)) if row.answer else _("Not answered yet.")
            told.append(Fact(f"{capfirst(report_words(row))}. {ended}", full_day(row.reported_on)))
    step = steps_of([student.pk]).get(student.pk)
    if step is not None:
        words = _("Way back: in full class.") if step.is_full_class else _("On the way back: %(step)s.") % {
            "step": _(step.words)}
        told.append(Fact(words, full_day(step.on)))
    return told or [Fact(_("No pain was reported in the last twelve months."))]


def seen_again(student: Student, today: dt.date) -> list[Fact]:
    """Faults that were noted on two days or more of the last half year, in class and in counts."""
    days, since = defaultdict(set), today - FAULTS_READ
    results = Result.objects.in_force().filter(student=student, taken_on__gte=since).exclude(fault="")
    for fault, on in results.values_list("fault", "taken_on"):
        days[fault].add(on)
    entries = LogEntry.objects.in_force().filter(student=student, is_withdrawn=False, log__held_on__gte=since)
    for faults, on in entries.values_list("faults", "log__held_on"):
        for fault in faults:
            days[fault].add(on)
    again = {fault: found for fault, found in days.items() if len(found) >= AGAIN_DAYS}
    return [
        Fact(_("Seen again: %(fault)s, on %(n)s days.") % {"fault": _(fault), "n": len(found)},
             _("last on %(day)s") % {"day": day(max(found))})
        for fault, found in sorted(again.items(), key=lambda each: (-len(each[1]), each[0]))
    ]
