"""Histories of taps by two tablets, and the few lines that say what must stand after each; knows no database."""
import random
import uuid
from dataclasses import dataclass, field

from hypothesis import strategies as st

SAY, PUT_RIGHT, TAKE_BACK, SEND = "say", "put right", "take back", "send"
# What, on which tablet, which of what there is to choose, and the value: few, so that equal ones are frequent.
WHATS = (SAY, SAY, PUT_RIGHT, PUT_RIGHT, PUT_RIGHT, TAKE_BACK, TAKE_BACK, TAKE_BACK, SEND, SEND)
VALUES = (100, 101, 102)
STEP = st.tuples(st.sampled_from(WHATS), st.integers(0, 1), st.integers(0, 7), st.sampled_from(VALUES))
HISTORY = st.lists(STEP, min_size=3, max_size=14)


class Stands:
    """`now`: in each place the tap whose words stand. `over`: over which words each tap was made there."""

    def __init__(self, other: "Stands | None" = None):
        self.now, self.over, self.last, self.order = (
            (dict(other.now), dict(other.over), dict(other.last), list(other.order)) if other else ({}, {}, {}, [])
        )

    def say(self, tap, places):
        self.over |= {(place, tap): self.now.get(place) for place in places}
        self.now |= dict.fromkeys(places, tap)
        self.last |= dict.fromkeys(places, tap)
        self.order.append(tap)

    def take_back(self, tap, of):
        for place, words in list(self.now.items()):
            if of in (words, self.last[place]):
                self.now[place], self.over[place, tap], self.last[place] = self.over[place, of], words, tap

    def undo(self, taps):
        return next((tap for tap in reversed(self.order) if tap in taps and tap in self.now.values()), None)


@dataclass(frozen=True)
class Tapped:
    """`of`: what a tap puts right or takes back; `places`: where it says something."""

    what: str
    key: uuid.UUID
    of: uuid.UUID | None = None
    places: tuple = ()
    value: int | None = None

    def note(self, stands: Stands) -> None:
        if self.what == TAKE_BACK:
            stands.take_back(self.key, self.of)
        elif self.what == SAY or stands.now.get(self.places[0]) == self.of:
            stands.say(self.key, self.places)


@dataclass
class Tablet:
    """`knows`: what it heard last, with its own waiting taps over it; each tap is made upon that."""

    knows: Stands = field(default_factory=Stands)
    waiting: list = field(default_factory=list)
    taps: set = field(default_factory=set)

    def tap(self, what, pick, value) -> Tapped | None:
        """What a hand does next; None where there is nothing to choose."""
        key, knows = uuid.uuid4(), self.knows
        if what == SAY:
            # One tap may say a thing of both feet.
            return Tapped(what, key, None, tuple(uuid.uuid4() for _foot in range(1 + (pick == 0))), value)
        if what == PUT_RIGHT:
            standing = [place for place, words in knows.now.items() if words]
            place = standing[pick % len(standing)] if standing else None
            return Tapped(what, key, knows.now[place], (place,), value) if standing else None
        # Undo as it is offered, and whatever was tapped last anywhere, be it a taking back.
        of = ([knows.undo(self.taps)] * 4 + list(knows.last.values()))[pick % (4 + len(knows.last))]
        return Tapped(what, key, of) if of else None


class Player:
    """Plays steps on two tablets; `store(tablet number, tapped)` writes each tap as it comes to the studio."""

    def __init__(self, store, seen=lambda number: None):
        """seen(tablet number): it was tapped, or heard of what stands."""
        self.tablets, self.stands, self.store, self.values = (Tablet(), Tablet()), Stands(), store, {}
        self.seen = seen

    def play(self, steps) -> None:
        for what, number, pick, value in [*steps, (SEND, 0, 0, 0), (SEND, 1, 0, 0)]:
            tablet = self.tablets[number]
            if what == SEND:
                self.send(number)
            elif tapped := tablet.tap(what, pick, value):
                tapped.note(tablet.knows)
                tablet.waiting.append(tapped)
                tablet.taps.add(tapped.key)
                self.values[tapped.key] = tapped.value
                self.seen(number)

    def send(self, number: int) -> None:
        tablet = self.tablets[number]
        for tapped in tablet.waiting:
            tapped.note(self.stands)
            self.store(number, tapped)
        tablet.waiting, tablet.knows = [], Stands(self.stands)
        self.seen(number)

    def undo(self, number: int) -> uuid.UUID | None:
        return self.stands.undo(self.tablets[number].taps)


def random_steps(chance: random.Random) -> list[tuple]:
    return [
        (chance.choice(WHATS), chance.randrange(2), chance.randrange(8), chance.choice(VALUES))
        for _step in range(chance.randint(3, 14))
    ]
