"""What the page of a group run says while it runs; `{name}`, `{value}` and their kin are filled in by the page."""
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from screening.models import Measure, Result


def run_words(measure: Measure) -> dict:
    """The words by name; `reasons`: why a child is not tested."""
    words = _states() | _buttons() | _hints()
    words["ready_hint"] = words["ready_beat"] if measure.kind == Measure.COUNT else words["ready_clock"]
    words["unit"] = f" {_(measure.unit)}" if measure.kind == Measure.SECONDS else ""
    words["reasons"] = {key: str(label) for key, label in Result.REASONS}
    return words


def _states() -> dict:
    return {
        "up": pgettext("still rising", "up"), "ready": _("ready"), "cap": _("reached the limit"),
        "least": _("still up"),
        "side_L": _("Left foot"), "side_R": _("Right foot"), "side_": "",
        "foot_L": pgettext("foot", "left"), "foot_R": pgettext("foot", "right"),
        "group": _("group {at} of {all}"), "attempt": _("try {at} of {all}"), "one_of": _("child {at} of {all}"),
        "kept_least": _("at least {value}"), "undo": _("Undo"),
        "to_go": _("to go"), "seen": _("everyone seen"),
    }


def _buttons() -> dict:
    return {
        "start": _("Start"), "stop_all": _("Stop all"), "stop": _("Stop"), "keep": _("Save {value}"),
        "next_group": _("Group {at}"), "done": _("To the screening"), "next_child": _("Next: {name}"),
        "sound_on": _("Sound on"), "sound_off": _("Sound off"),
    }


def _hints() -> dict:
    return {
        "tap": _("Tap a name when that student stops."), "ready_beat": _("Ready? The beat starts after four."),
        "ready_clock": _("Ready? The clock starts at once."), "four": _("Four beats, then up."),
        "double": _("Already down at {value}. Tap again to say why."), "all_down": _("All stopped."),
        "who_not": _("Tap who does not do this measure today, or who is here after all."),
        "who_hurts": _("Whom does it hurt? Tap the name."),
        "nobody": _("Nobody in this group today. Go to group {at}."), "nobody_left": _("Nobody left to measure."),
        "not_yet": _("Not started yet. Tap Start first."), "early": _("Wait for the first rise."),
        "no_pain_page": _("No network. Stop {name} now, and report where it hurts as soon as it is back."),
        "closed": _("This screening is closed."), "refused": _("{name} was not saved: {why}"),
        "not_kept": _("This tablet could not save it. Write it down: {what}"),
        "off": _("{name} is not tested: {why}"),
        "away": _("{name}: {why}. Here after all? Tap Not today, then the name."),
        "back": _("{name} is back."), "back_next": _("{name} is back, from the next start on."),
        "next_run": _("{name} was not up at the start. Their count begins with the next start."),
        "nobody_line": _("Nobody is in this class on this day."),
    }
