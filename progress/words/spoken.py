"""The sentence on top of a student's page, to be said aloud: no numbers but weeks, shorter than 140 characters.

Pure: knows judged lines and a voice; no language, no Django, no clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from progress.judging.engine.facts import Line
from studio.voice import PLAIN, Voice

# Said aloud in one breath, and fits above the chart on a tablet (our choice).
LONGEST_SPOKEN = 140
# Which measure leads, and which foot of it is said first: what needs somebody, then what is known.
_URGENCY = {"dropped": 0, "slipping": 1, "stalled": 2, "gaining": 4, "at_target": 5, "not_clear": 3, "too_early": 6}
_FIRST = {"dropped": 0, "slipping": 1, "stalled": 2, "gaining": 3, "at_target": 4, "not_clear": 5, "too_early": 6}
_WANTS_A_LOOK = ("dropped", "slipping", "stalled")


def spoken(lines: Iterable[Line], *, voice: Voice = PLAIN, names: Mapping[str, str] | None = None) -> str:
    """Return what can be said of a student: of the most urgent measure foot by foot, of the others in a word.

    lines: those of one student, in the order in which the measures matter; names: measure key -> lower-case
    name, already translated. What does not fit is left out, the last first.
    """
    feet: dict[str, list[Line]] = {}
    for line in lines:
        feet.setdefault(line.measure, []).append(line)
    known = [group for group in feet.values() if any(line.verdict != "too_early" for line in group)]
    if not known:
        return voice.gettext("It is too early to say how things are going: a few more results are needed.")
    lead = min(known, key=lambda group: min(_URGENCY[line.verdict] for line in group))
    told = names or {}
    text = _lead(lead, voice, told.get(lead[0].measure, lead[0].measure))
    for more in _others([group for group in known if group is not lead], voice, told):
        if len(f"{text} {more}") < LONGEST_SPOKEN:
            text = f"{text} {more}"
    return text


def _lead(group: list[Line], voice: Voice, name: str) -> str:
    ordered = sorted(group, key=lambda line: (_FIRST[line.verdict], line.side))
    first = ordered[0]
    words = {"name": name, "since": _since(min(group, key=_earliest) if _is_one(group) else first, voice)}
    if len(group) == 1 and first.side == "":
        text = _whole(first.verdict, voice) % words
    elif _is_one(group) and len(group) > 1:
        text = _both(first.verdict, voice) % words
    else:
        others = [_other_foot(line, voice) % {"since": _since(line, voice)} for line in ordered[1:]]
        text = "; ".join([_foot(first, voice) % words, *others]) + "."
    return text[:1].upper() + text[1:]


def _is_one(group: list[Line]) -> bool:
    return len({line.verdict for line in group}) == 1


def _earliest(line: Line) -> int:
    return line.since_on.toordinal() if line.since_on else 0


def _since(line: Line, voice: Voice) -> str:
    since = line.drop.low_on if line.drop else line.since_on
    return voice.week(since) if since else ""


def _foot(line: Line, voice: Voice) -> str:
    left = {
        "gaining": voice.gettext("the left foot is gaining in %(name)s"),
        "at_target": voice.gettext("the left foot is at the target in %(name)s"),
        "stalled": voice.gettext("the left foot has stalled in %(name)s since about %(since)s"),
        "slipping": voice.gettext("the left foot has been slipping in %(name)s since about %(since)s"),
        "not_clear": voice.gettext("too soon to say about the left foot in %(name)s"),
        "dropped": voice.gettext("the left foot dropped suddenly in %(name)s, about %(since)s"),
        "too_early": voice.gettext("too early to say about the left foot in %(name)s"),
    }
    right = {
        "gaining": voice.gettext("the right foot is gaining in %(name)s"),
        "at_target": voice.gettext("the right foot is at the target in %(name)s"),
        "stalled": voice.gettext("the right foot has stalled in %(name)s since about %(since)s"),
        "slipping": voice.gettext("the right foot has been slipping in %(name)s since about %(since)s"),
        "not_clear": voice.gettext("too soon to say about the right foot in %(name)s"),
        "dropped": voice.gettext("the right foot dropped suddenly in %(name)s, about %(since)s"),
        "too_early": voice.gettext("too early to say about the right foot in %(name)s"),
    }
    return (left if line.side == "L" else right)[line.verdict]


def _other_foot(line: Line, voice: Voice) -> str:
    left = {
        "gaining": voice.gettext("the left goes on"),
        "at_target": voice.gettext("the left is at the target"),
        "stalled": voice.gettext("the left has stalled since about %(since)s"),
        "slipping": voice.gettext("the left has been slipping since about %(since)s"),
        "not_clear": voice.gettext("too soon to say about the left"),
        "too_early": voice.gettext("too early to say about the left"),
    }
    right = {
        "gaining": voice.gettext("the right goes on"),
        "at_target": voice.gettext("the right is at the target"),
        "stalled": voice.gettext("the right has stalled since about %(since)s"),
        "slipping": voice.gettext("the right has been slipping since about %(since)s"),
        "not_clear": voice.gettext("too soon to say about the right"),
        "too_early": voice.gettext("too early to say about the right"),
    }
    return (left if line.side == "L" else right)[line.verdict]


def _both(verdict: str, voice: Voice) -> str:
    return {
        "gaining": voice.gettext("both feet are gaining in %(name)s."),
        "at_target": voice.gettext("both feet are at the target in %(name)s."),
        "stalled": voice.gettext("both feet have stalled in %(name)s since about %(since)s."),
        "slipping": voice.gettext("both feet have been slipping in %(name)s since about %(since)s."),
        "not_clear": voice.gettext("too soon to say about %(name)s."),
        "dropped": voice.gettext("both feet dropped suddenly in %(name)s, about %(since)s."),
    }[verdict]


def _whole(verdict: str, voice: Voice) -> str:
    return {
        "gaining": voice.gettext("%(name)s: gaining."),
        "at_target": voice.gettext("%(name)s: at the target."),
        "stalled": voice.gettext("%(name)s: stalled since about %(since)s."),
        "slipping": voice.gettext("%(name)s: slipping since about %(since)s."),
        "not_clear": voice.gettext("too soon to say about %(name)s."),
        "dropped": voice.gettext("%(name)s: dropped suddenly, about %(since)s."),
    }[verdict]


def _others(groups: list[list[Line]], voice: Voice, names: Mapping[str, str]) -> list[str]:
    """A sentence each for the measures that need a look, too, for those that improve, for those not known yet."""

    def named(found: list[list[Line]]) -> str:
        return _listed([names.get(group[0].measure, group[0].measure) for group in found], voice)

    look = [group for group in groups if any(line.verdict in _WANTS_A_LOOK for line in group)]
    better = [group for group in groups if all(line.verdict in ("gaining", "at_target") for line in group)]
    unknown = [group for group in groups if all(line.verdict == "not_clear" for line in group)]
    said = []
    if look:
        said.append(voice.gettext("Look at %(names)s, too.") % {"names": named(look)})
    if better:
        text = voice.gettext("%(names)s are improving.") if len(better) > 1 else voice.gettext("Progress in %(names)s.")
        said.append(text % {"names": named(better)})
    if unknown:
        said.append(voice.gettext("Too soon to say about %(names)s.") % {"names": named(unknown)})
    return [text[:1].upper() + text[1:] for text in said]


def _listed(names: list[str], voice: Voice) -> str:
    listed = names[0]
    for place, name in enumerate(names[1:], start=2):
        joint = voice.gettext("%(first)s and %(second)s") if place == len(names) else "%(first)s, %(second)s"
        listed = joint % {"first": listed, "second": name}
    return listed
