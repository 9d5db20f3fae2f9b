"""Plays histories of taps on the ledger itself, on rows of the lightest kind, in places that nothing else uses."""
import datetime as dt
import uuid

from progress.models import Height
from progress.queries.barre.taps import told_tap
from studio import ledger
from studio.actions import Refused
from studio.models import Student, User
from tests.histories import PUT_RIGHT, SAY, Player, Tapped


class LedgerPlayer(Player):
    def __init__(self, student: Student, on: dt.date, people: tuple[User, User]):
        super().__init__(self.write)
        self.student, self.on, self.people = student, on, people
        self.first, self.row = {}, {}

    def write(self, number: int, tapped: Tapped) -> None:
        says = {"key": tapped.key, "by": self.people[number]}
        if tapped.what == SAY:
            for place in tapped.places:
                self.first[place] = self.row[place, tapped.key] = ledger.append(
                    Height, student=self.student, measured_on=self.on, height_cm=tapped.value, **says
                )
            return
        try:
            if tapped.what == PUT_RIGHT:
                self._put_right(tapped, says)
            else:
                ledger.take_back(self.rows(), of=tapped.of, **says)
        except Refused:
            pass

    def _put_right(self, tapped: Tapped, says: dict) -> None:
        [place] = tapped.places
        if meant := self.row.get((place, tapped.of)):
            self.row[place, tapped.key] = ledger.append(
                Height, before=ledger.stands_for(meant), height_cm=tapped.value, **says
            )

    def rows(self):
        return Height.objects.filter(key__in=self.values)

    def standing(self) -> dict[uuid.UUID, Height]:
        """Place -> the row that stands there."""
        place, found = {row.pk: at for at, row in self.first.items()}, {}
        for row in self.rows().order_by("pk"):
            at = place[row.pk] = place.get(row.pk, place.get(row.supersedes_id))
            found[at] = row
        return found

    def check(self) -> None:
        """The ledger says what the few lines say: of every place what stands, to each person what Undo offers."""
        for place, row in self.standing().items():
            words = self.stands.now[place]
            assert row.height_cm == self.values.get(words), (place, row)
            assert row.origin == words if words else ledger.is_nothing(row), (place, row)
        for number, person in enumerate(self.people):
            offered = self.rows().last_of(person)
            assert (offered.key if offered else None) == self.undo(number), (person, offered)

    def told(self) -> dict:
        """The rows as a tablet hears them; by place what stands; by person what Undo offers."""
        rows = self.rows().order_by("pk").select_related("supersedes", "by")
        place = {row.pk: str(at) for at, row in self.first.items()}
        for row in rows:
            place.setdefault(row.pk, place.get(row.supersedes_id))
        return {
            "rows": [told_tap(row) | {"place": place[row.pk], "value": _number(row.height_cm)} for row in rows],
            "stands": {
                str(at): {"origin": str(words), "value": self.values[words]} if words else None
                for at, words in self.stands.now.items()
            },
            "undo": {str(person.pk): str(self.undo(at) or "") for at, person in enumerate(self.people)},
        }


def _number(value) -> int | None:
    return None if value is None else int(value)
