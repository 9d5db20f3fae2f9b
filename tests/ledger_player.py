"""Plays histories of taps on the ledger itself, on rows of the lightest kind, in places that nothing else uses."""
import datetime as dt
import json
import subprocess
import uuid
from pathlib import Path

from playwright._impl._driver import compute_driver_executable

from progress.models import Height
from progress.queries.barre.taps import told_tap
from studio import ledger
from studio.actions import Refused
from studio.models import Student, User
from tests.histories import PUT_RIGHT, SAY, Player, Tapped


class LedgerPlayer(Player):
    def __init__(self, student: Student, on: dt.date, people: tuple[User, User]):
        super().__init__(self.write, self.look)
        self.student, self.on, self.people = student, on, people
        self.first, self.row = {}, {}
        # What each tablet knows after each tap and each hearing: how many rows it heard of, what waits, what stands.
        self.heard, self.looks = [0, 0], []

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

    def look(self, number: int) -> None:
        tablet = self.tablets[number]
        if not tablet.waiting:
            self.heard[number] = self.rows().count()
        self.looks.append({
            "person": self.people[number].pk, "heard": self.heard[number],
            "taps": [_told_tap(tapped) for tapped in tablet.waiting],
            "stands": {str(place): words and str(words) for place, words in tablet.knows.now.items()},
            "undo": str(tablet.knows.undo(tablet.taps) or ""),
        })

    def told(self) -> dict:
        """The rows as tablets hear them, in their order, and every look at a tablet."""
        rows = self.rows().order_by("pk").select_related("supersedes", "by")
        place = {row.pk: str(at) for at, row in self.first.items()}
        for row in rows:
            place.setdefault(row.pk, place.get(row.supersedes_id))
        return {
            "rows": [told_tap(row) | {"place": place[row.pk], "value": _number(row.height_cm)} for row in rows],
            "values": {str(key): value for key, value in self.values.items()}, "looks": self.looks,
        }


def _told_tap(tapped: Tapped) -> dict:
    places = [str(place) for place in tapped.places]
    return {"key": str(tapped.key), "what": tapped.what, "of": str(tapped.of or ""), "places": places}


def _number(value) -> int | None:
    return None if value is None else int(value)


def folds_alike(histories: list[dict]) -> str:
    """What the tablet's own ledger makes of these histories (`told`), in one process of the node that Playwright
    brings: "" where it says at every look what must stand and what Undo must offer."""
    node, _cli = compute_driver_executable()
    script = Path(__file__).with_name("script") / "fold_histories.mjs"
    done = subprocess.run([node, script], input=json.dumps(histories), capture_output=True, text=True)
    return done.stdout + done.stderr
