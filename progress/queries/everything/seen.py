"""Writes what is kept of what was seen of a student: results, lines, pain, follow-ups, and who looked at it."""
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import groupby

from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.models import (
    CarriedOver,
    FollowUp,
    FollowUpNote,
    HomeTold,
    PainAnswer,
    PainReport,
    ReturnStep,
    Standing,
    TermStanding,
)
from progress.queries.everything.words import Entry, dated, instant, replaced, stamp, with_side
from progress.queries.pain import answer_words, effect_words, report_words
from progress.rules import feet, pain
from progress.rules.dose import FIRM
from progress.words.speech import side_word, verdict_word
from screening.models import Result
from screening.wording import write_value
from studio.audit.models import AuditRow
from studio.audit.queries import AuditLine, in_words
from studio.templatetags.wording import full_day


def results(rows: list[Result]) -> Iterator[Entry]:
    """A measuring day in one entry, a measure a line: "Rises, one foot (protocol 1: ...): left 14, 15; right 12"."""
    old = {row.supersedes_id for row in rows}

    def day(row: Result) -> tuple:
        return row.taken_on, row.screening_id

    def measured(row: Result) -> tuple:
        return row.measure.position, row.measure_id, row.protocol.version

    rows = sorted(rows, key=lambda row: (*day(row), *measured(row), row.side, row.attempt, row.pk))
    for (on, _screening), found in groupby(rows, day):
        group = list(found)
        lines = tuple(_measured(list(same), old) for _key, same in groupby(group, measured))
        kept = dict.fromkeys(stamp(row.by, row.received_at) for row in group)
        yield dated(on, str(group[0].screening), key=group[0].pk, lines=lines, soft="; ".join(kept))


def _measured(rows: list[Result], old: set[int | None]) -> str:
    """The attempts of each side in their order."""
    sides = []
    for side, found in groupby(rows, lambda row: row.side):
        values = ", ".join(replaced(_attempt(row), row.pk in old) for row in found)
        sides.append(f"{side_word(side)} {values}".strip())
    protocol = rows[0].protocol
    return _("%(measure)s (protocol %(n)s: %(how)s): %(values)s") % {
        "measure": rows[0].measure, "n": protocol.version, "how": _(protocol.short_name), "values": "; ".join(sides)}


def _attempt(row: Result) -> str:
    seen = _(row.get_reason_missing_display()) if row.value is None else write_value(
        row.value, row.measure, row.protocol, capped=row.reached_cap).replace(" ", FIRM)
    more = [_(row.fault)] if row.fault else []
    more += [_("confirmed")] if row.is_confirmed else []
    more += [_("while resting: %(why)s") % {"why": row.get_despite_rest_display()}] if row.despite_rest else []
    more += [_("this foot first")] if row.is_first_side else []
    return f"{seen} ({', '.join(more)})" if more else seen


def standings(rows: list[Standing | TermStanding]) -> Iterator[Entry]:
    """Of today, and as they were kept when a term ended."""
    for row in rows:
        words = f"{with_side(row.measure, row.side)}: {verdict_word(row.verdict)}"
        again = _("to be measured again") if row.measure_again else ""
        where = (str(part) for part in (row.class_group, getattr(row, "term", None)) if part)
        yield dated(row.as_of, words, key=row.pk, lines=(again,), soft=", ".join(where))


def carried_over(rows: list[CarriedOver]) -> Iterator[Entry]:
    """What newer results are judged on from: numbers, one set for each line."""
    for row in rows:
        lines = ngettext("the state of %(n)s line", "the states of %(n)s lines", len(row.lines)) % {"n": len(row.lines)}
        yield dated(row.until, _("Carried over from older terms"), key=row.pk, lines=(lines,))


def pain_reports(rows: list[PainReport]) -> Iterator[Entry]:
    for row in rows:
        where = ", ".join(str(part) for part in (row.measure, row.screening) if part)
        at = _("stopped at %(n)s") % {"n": row.at_count} if row.at_count is not None else ""
        lines = (effect_words(row), row.note, where, at, _not_meant(row.not_meant), _asked(row.asks))
        yield dated(row.reported_on, report_words(row), key=row.pk, lines=lines,
                    soft=stamp(row.reported_by, row.reported_at))


def _not_meant(keys: list[str]) -> str:
    """What the words seemed to name, and was said not to be so."""
    if not keys:
        return ""
    known = dict((*pain.FEELS, *pain.SIGNS, *pain.WORD_SIGNS))
    told = [_(known[key]) if key in known else feet.place_words([key], gettext=_) for key in keys]
    return _("Asked about, and not meant: %(what)s.") % {"what": ", ".join(told)}


def _asked(asks: str) -> str:
    """What the tablet said at once."""
    return {
        "doctor_today": _("The next step was: a doctor today."), "head": _("The next step was: a doctor today."),
        "emergency": _("The next step was: the emergency number."), "stop": _("The next step was: stop."),
        "watch": _("The next step was: watch it."), "ease": _("The next step was: ease off."),
    }.get(asks, asks)


def pain_answers(rows: list[PainAnswer]) -> Iterator[Entry]:
    for row in rows:
        seen = _("seen on %(day)s") % {"day": full_day(row.said_on)} if row.said_on else ""
        about = _("about the report of %(day)s") % {"day": full_day(row.report.reported_on)}
        most = _("at most: %(what)s") % {"what": _(row.get_allows_display())} if row.allows else ""
        until = _("until %(day)s") % {"day": full_day(row.until_on)} if row.until_on else ""
        again = _("to be seen again on %(day)s") % {"day": full_day(row.see_again_on)} if row.see_again_on else ""
        yield dated(timezone.localdate(row.received_at), capfirst(answer_words(row)), key=row.pk,
                    lines=(seen, most, until, again, about), soft=stamp(row.by, row.received_at))


def return_steps(rows: list[ReturnStep]) -> Iterator[Entry]:
    for row in rows:
        words = _("Way back, %(kind)s: %(step)s") % {
            "kind": row.get_kind_display(), "step": f"{row.step}, {_(row.words)}"}
        ladder = _("steps approved by %(who)s") % {"who": row.ladder.approved_by} if row.ladder.approved_by else _(
            "steps not approved by a clinician")
        yield dated(row.on, words, key=row.pk, lines=(row.note,), soft=f"{ladder}; {stamp(row.by, row.at)}")


def home_told(rows: list[HomeTold]) -> Iterator[Entry]:
    """Who at home was told of a report, by the name of that day."""
    for row in rows:
        words = _("Told at home: %(who)s.") % {"who": f"{row.who}, {row.get_way_display()}"}
        about = _("about the report of %(day)s") % {"day": full_day(row.report.reported_on)}
        yield dated(timezone.localdate(row.at), words, key=row.pk, lines=(row.note, str(row.guardian or ""), about),
                    soft=stamp(row.by, row.at))


def follow_ups(rows: list[FollowUp]) -> Iterator[Entry]:
    for row in rows:
        about = ", ".join(part for part in (with_side(row.measure, row.side), str(row.class_group or "")) if part)
        acts = _("for %(who)s, by %(day)s") % {"who": row.acts.name, "day": full_day(row.due_on)} if row.acts else _(
            "by %(day)s") % {"day": full_day(row.due_on)}
        closed = _("closed: %(who)s") % {
            "who": f"{full_day(row.closed_on)}, {stamp(row.closed_by, row.closed_at)}"} if row.closed_at else ""
        words = f"{row.get_kind_display()} ({about})" if about else str(row.get_kind_display())
        yield dated(row.opened_on, words, key=row.pk, lines=(acts, closed),
                    soft=_("opened %(when)s") % {"when": instant(row.opened_at)})


def follow_up_notes(rows: list[FollowUpNote]) -> Iterator[Entry]:
    for row in rows:
        words = f"{row.follow_up.get_kind_display()}, {row.get_kind_display()}"
        yield dated(timezone.localdate(row.at), words, key=row.pk, lines=(row.text,), soft=stamp(row.by, row.at))


def who_saw(rows: list[AuditRow]) -> Iterator[Entry]:
    """One person's day in one entry, a line for each thing they did: "saw: the student’s page 17:00, results 17:02"."""
    def together(line: AuditLine) -> tuple:
        role = "" if line.row.person_key is None else str(line.row.get_role_display())
        return timezone.localdate(line.row.at), line.who, role, line.device

    lines = sorted(in_words(rows), key=lambda line: (*together(line), line.row.pk))
    for (on, who, role, device), found in groupby(lines, together):
        done = _by_outcome(found)
        words = ", ".join(part for part in (who, role, device) if part)
        yield dated(on, words, key=0, lines=tuple(f"{outcome}: {', '.join(pages)}" for outcome, pages in done.items()))


def _by_outcome(lines: Iterable[AuditLine]) -> dict[str, list[str]]:
    times: dict[tuple[str, str], list[str]] = defaultdict(list)
    for line in lines:
        about = line.page
        if line.row.class_key is not None:
            about = f"{about}, {line.about}"
        times[str(line.row.get_outcome_display()), about].append(f"{timezone.localtime(line.row.at):%H:%M}")
    done: dict[str, list[str]] = defaultdict(list)
    for (outcome, page), found in times.items():
        done[outcome].append(f"{page} {_(' and ').join(dict.fromkeys(found))}")
    return done
