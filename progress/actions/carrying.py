"""What a class is judged from: results of this term and the one before, and what was carried over from older ones."""
import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property

from progress.judging import judgement
from progress.judging.engine.stories import RULES
from progress.judging.line_record import read_carried, write_carried
from progress.models import CarriedOver
from progress.queries.judged import LastSeen, how_far_back, judge_facts, judged_in, last_day, last_seen, measure_facts
from progress.queries.learned import learned_values
from screening.queries import judged_measures


@dataclass(frozen=True)
class Known:
    """Everything that one class is judged from. since: from when on results are read one by one, None: all of them;
    seen: the students judged in it; measures, targets, carried: as judgement.judge_class takes them."""

    since: dt.date | None
    seen: Mapping[int, LastSeen]
    facts: list[judgement.ResultFact]
    targets: Mapping[tuple[int, str], float]
    measures: Mapping[str, judgement.MeasureFacts]
    carried: Mapping[judgement.LineKey, judgement.Carried]

    @cached_property
    def last_days(self) -> dict[str, dt.date]:
        """Measure key to the last day on which it was measured."""
        days: dict[str, dt.date] = {}
        for fact in self.facts:
            days[fact.measure] = max(fact.on, days.get(fact.measure, fact.on))
        return days

    @property
    def as_of(self) -> dt.date:
        return max(self.last_days.values())

    def judged(self, as_of: dt.date) -> judgement.ClassJudgement:
        return judgement.judge_class(
            self.facts, measures=self.measures, targets=self.targets, as_of=as_of, carried=self.carried
        )

    def carried_over(self) -> dict[int, dict[judgement.LineKey, judgement.Carried]]:
        """Student to what is carried of their lines after the week of the last result."""
        lines = dict(self.carried)
        if self.facts:
            sunday = self.as_of + dt.timedelta(days=6 - self.as_of.weekday())
            lines = judgement.carry_over(self.facts, measures=self.measures, as_of=sunday, carried=self.carried)
        told: dict[int, dict] = defaultdict(dict)
        for key, each in lines.items():
            told[key[0]][key] = each
        return told


class Judging:
    """Reads terms and measures once for many classes; carries over what is missing. To be used in a transaction."""

    def __init__(self):
        self.measures, self.reach = judged_measures(), how_far_back()
        self._facts_of: dict[dt.date | None, dict[str, judgement.MeasureFacts]] = {}

    def measure_facts(self, before: dt.date | None = None) -> dict[str, judgement.MeasureFacts]:
        """Measure key to what the judge must know of it, as was learned before a day, or till now."""
        if before not in self._facts_of:
            learned = learned_values(before=before)
            self._facts_of[before] = {each.key: measure_facts(each, learned) for each in self.measures}
        return self._facts_of[before]

    def known(self, class_id: int, *, before: dt.date | None = None) -> Known:
        """What a class was judged from before a day, or is now; without facts where nobody is judged in it."""
        day = last_day(class_id, before=before)
        since = self.reach.reads_from(day) if day is not None else None
        seen = judged_in(class_id, since=since, before=before) if day is not None else {}
        facts, targets = judge_facts(seen, self.measures, since=since, before=before)
        return Known(since, seen, facts, targets, self.measure_facts(before), self._carried(seen, since))

    def _carried(
        self, student_ids: Collection[int], until: dt.date | None
    ) -> dict[judgement.LineKey, judgement.Carried]:
        if until is None:
            return {}
        made_from = self._made_from(until)
        rows = CarriedOver.objects.filter(student__in=student_ids, until=until, made_from=made_from)
        there = {row.student_id: row.lines for row in rows}
        lacking = set(student_ids) - there.keys()
        if lacking:
            there |= self._carry_over(lacking, until, made_from)
        return {
            key: each for student_id in student_ids for key, each in read_carried(student_id, there[student_id]).items()
        }

    def _carry_over(self, student_ids: set[int], until: dt.date, made_from: str) -> dict[int, list]:
        """Judges the classes in which these students were seen last before a day, as of the term in which they were."""
        seen = last_seen(student_ids, before=until)
        lines: dict[int, list] = {student_id: [] for student_id in student_ids - seen.keys()}
        ends: dict[tuple[int, dt.date], set[int]] = defaultdict(set)
        for student_id, each in seen.items():
            ends[each.class_id, self.reach.next_after(each.on)].add(student_id)
        for (class_id, end), of_class in sorted(ends.items()):
            known = self.known(class_id, before=end)
            carried = known.carried_over()
            # Students seen with them in the last term before that day will be asked for, too.
            others = {pk for pk, last in known.seen.items() if end == until == self.reach.next_after(last.on)}
            lines |= {pk: write_carried(carried.get(pk, {})) for pk in of_class | others}
        CarriedOver.objects.bulk_create(
            [CarriedOver(student_id=pk, until=until, made_from=made_from, lines=lines[pk]) for pk in sorted(lines)],
            update_conflicts=True, unique_fields=["student", "until"], update_fields=["made_from", "lines"],
        )
        return lines

    def _made_from(self, until: dt.date) -> str:
        """A digest of everything but results that a carried line rests on."""
        learned = sorted(learned_values(before=until).items())
        told = (
            RULES, [day for day in self.reach.begins if day <= until], self.measure_facts(until),
            [(each.pk, each.kind, each.score_rule) for each in self.measures],
            [(key, row.value) for key, row in learned],
        )
        return hashlib.sha256(repr(told).encode()).hexdigest()


def forget_carried(*, since: dt.date) -> bool:
    """A result of that day or later changed: what rests on it is carried over anew. False where nothing does."""
    forgotten, _by_model = CarriedOver.objects.filter(until__gt=since).delete()
    return bool(forgotten)
