"""The plate of the feet: every place can be tapped, named and sent, and none is in another's way."""

import itertools
import re
from pathlib import Path

import pytest
from django.template.loader import render_to_string

from progress.rules import feet


def _read(name: str) -> str:
    """A template with the drawings it takes in as the browser reads them, on one line."""
    text = Path("templates", name).read_text(encoding="utf-8")
    whole = re.sub(r'{% include "([^"]+)" %}', lambda found: render_to_string(found[1]), text)
    return re.sub(r"\s+", " ", whole)


TEMPLATE = _read("progress/_foot_plate.html")
ON_PLATE = [f"{side}-{region.key}" for region in feet.REGIONS for side in feet.SIDES]
TAPS = [
    (f"{side}-{region.key}", feet.tap_area(tap, side))
    for region in feet.REGIONS
    for side in feet.SIDES
    for tap in region.taps
]
# Our own rule: tap areas are at least 56 px, never overlapping.
LEAST_PX = 56


def _same(text: str) -> str:
    return text


def test_the_form_sends_exactly_the_places_there_are():
    sent = re.findall(r'<input type="checkbox" id="foot-([^"]+)" name="region" value="([^"]+)"', TEMPLATE)
    assert sorted(value for _, value in sent) == sorted(ON_PLATE)
    assert all(name == value for name, value in sent)
    assert set(ON_PLATE) | {key for key, _ in feet.ELSEWHERE} == set(feet.PLACE_KEYS)


def test_a_place_that_was_sent_is_ticked_again():
    for key in ON_PLATE:
        assert f'value="{key}" {{% if "{key}" in chosen %}} checked{{% endif %}}>' in TEMPLATE


def test_every_control_is_named_by_side_and_place():
    names = {region.key: region.name for region in feet.REGIONS}
    spoken = dict(re.findall(r'value="([^"]+)"[^>]*> <span>{% translate "([^"]+)" %}</span>', TEMPLATE))
    words = {"L": "left", "R": "right"}
    assert spoken == {key: f"{words[key[0]]}, {names[key[2:]]}" for key in ON_PLATE}


def test_every_place_can_be_hit_with_a_finger():
    for key, area in TAPS:
        assert area.right - area.left >= LEAST_PX and area.bottom - area.top >= LEAST_PX, key


def test_no_tap_areas_overlap():
    for (one, a), (other, b) in itertools.combinations(TAPS, 2):
        if a.view == b.view:
            beside = a.right <= b.left or b.right <= a.left
            assert beside or a.bottom <= b.top or b.bottom <= a.top, (one, other)


def test_her_left_is_always_on_the_left():
    rights = {(key, area.view): area for key, area in TAPS if key[0] == "R"}
    for key, area in TAPS:
        if key[0] == "L":
            mirrored = rights[f"R{key[1:]}", area.view]
            assert area.right < feet.AXES[area.view] < mirrored.left
            assert area.left + mirrored.right == pytest.approx(2 * feet.AXES[area.view])


def test_every_leader_ends_in_the_tap_area_of_its_place():
    origins = {"above": (28, 100), "behind": (488, 160)}
    for view, part in zip(feet.VIEWS, TEMPLATE.split("<fieldset")[1:], strict=True):
        ends = re.findall(r'foot-leader foot-leader-(L-[^"]+)" d="M([\d.]+) ([\d.]+)H', part)
        areas = {key: area for key, area in TAPS if area.view == view}
        assert {key for key, _, _ in ends} == {key for key in areas if key[0] == "L"}
        for key, x, y in ends:
            area = areas[key]
            assert area.left <= float(x) - origins[view][0] <= area.right, key
            assert area.top <= float(y) - origins[view][1] <= area.bottom, key


def test_every_place_has_its_drawing_and_its_rules():
    sheet = Path("static/css/foot.css").read_text(encoding="utf-8")
    assert feet.style_rules() in sheet
    for key in ON_PLATE:
        assert f'foot-region-{key}"' in TEMPLATE and f"foot-leader-{key}" in TEMPLATE
        assert f'.foot-plate:has([value="{key}"]:checked) .foot-region-{key}' in sheet


def test_the_plate_needs_no_inline_style_and_no_script():
    assert not re.search(r"\sstyle=|<style|<script|\son\w+=", TEMPLATE)


def test_places_are_told_in_words_once_each():
    told = feet.place_words(["L-achilles", "R-heel", "L-achilles", "back"], gettext=_same)
    assert told == "left Achilles, right heel, back"
    assert feet.place_words([], gettext=_same) == ""
    assert all(feet.place_words([key], gettext=_same) for key in feet.PLACE_KEYS)


def test_places_elsewhere_are_told_in_the_readers_language():
    assert dict(feet.elsewhere({"left knee": "linkes Knie"}.get))["L-knee"] == "linkes Knie"
    assert dict(feet.elsewhere(_same)) == dict(feet.ELSEWHERE)


def test_an_unknown_place_is_refused():
    with pytest.raises(KeyError):
        feet.place_words(["L-elbow"], gettext=_same)
