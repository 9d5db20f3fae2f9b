"""Cards and mails carry a link once; the owner sees whether it was opened; the square says the very address."""
import re
import xml.etree.ElementTree as ET
from smtplib import SMTPRecipientsRefused

import numpy as np
import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from studio.family.actions import make_key
from studio.family.cards import link_square
from studio.models import GuardianKey, Studio
from tests.family.conftest import agree, family_of
from tests.reading import words_of


def tokens_on(answer) -> list[str]:
    return re.findall(r"/family/card/([\w-]{22})/", answer.content.decode())


def make_cards(client, cast, **data):
    return client.post(reverse("studio:make-cards", args=[cast.class_group.pk]), data)


@pytest.fixture
def guardian(cast):
    family = family_of(cast, cast.ama, opened=False, email="home@example.org")
    GuardianKey.objects.all().delete()
    return family.guardian


def test_a_class_gets_a_card_for_each_guardian_without_one_and_each_opens(as_owner, cast, guardian):
    tokens = tokens_on(make_cards(as_owner, cast))
    assert len(tokens) == 1
    assert Client().get(f"/family/card/{tokens[0]}/").status_code == 302


def test_cards_are_shown_once_and_never_again(as_owner, cast, guardian):
    make_cards(as_owner, cast)
    for name, key in (("families", cast.class_group.pk), ("consents", cast.ama.pk)):
        assert tokens_on(as_owner.get(reverse(f"studio:{name}", args=[key]))) == []


def test_who_has_a_card_keeps_it_and_it_goes_on_through_the_term(as_owner, cast, guardian):
    make_cards(as_owner, cast)
    GuardianKey.objects.update(valid_until=cast.screening.held_on)
    assert tokens_on(make_cards(as_owner, cast)) == []
    assert GuardianKey.objects.get().valid_until > cast.term.ends_on


def test_without_consent_to_a_page_there_is_no_card(as_owner, cast, guardian):
    agree(cast, cast.ama, "family", is_given=False)
    make_cards(as_owner, cast)
    assert not GuardianKey.objects.exists()


def test_one_tap_ends_a_link_and_makes_another(as_owner, cast, guardian):
    [old] = tokens_on(make_cards(as_owner, cast))
    [new] = tokens_on(as_owner.post(reverse("studio:new-card", args=[guardian.pk])))
    assert [Client().get(f"/family/card/{token}/").status_code for token in (old, new)] == [404, 302]
    as_owner.post(reverse("studio:end-card", args=[guardian.pk]))
    assert Client().get(f"/family/card/{new}/").status_code == 404


def test_the_owner_sees_who_never_opened_hers(as_owner, cast, guardian):
    path = reverse("studio:families", args=[cast.class_group.pk])
    [token] = tokens_on(make_cards(as_owner, cast))
    assert "never opened" in as_owner.get(path).content.decode()
    device = Client()
    device.get(f"/family/card/{token}/")
    device.post("/family/entrance/", {"birth_on": cast.ama.birth_on.isoformat()})
    assert "opened 24 March, 1 device" in as_owner.get(path).content.decode()


def test_a_teacher_records_consents_and_sees_no_links(as_teacher, cast, guardian):
    assert "no card" not in as_teacher.get(reverse("studio:families", args=[cast.class_group.pk])).content.decode()
    assert make_cards(as_teacher, cast).status_code == 403


def test_a_link_goes_by_mail_without_a_name_in_the_subject_where_mail_is_set_up(as_owner, cast, guardian, settings):
    settings.MAIL_URL = "smtp://mail.example"
    as_owner.post(reverse("studio:new-card", args=[guardian.pk]), {"mail": "1"})
    [sent] = mail.outbox
    assert sent.to == ["home@example.org"]
    [token] = re.findall(r"/family/card/([\w-]{22})/", sent.body)
    assert Client().get(f"/family/card/{token}/").status_code == 302
    assert "Ama" not in sent.subject + sent.body and "2014" not in sent.body


def test_a_mail_that_fails_leaves_the_link_of_before_and_says_so(as_owner, cast, guardian, settings, monkeypatch):
    settings.MAIL_URL = "smtp://mail.example"
    token = make_key(guardian=guardian, term=cast.term, by=cast.owner)

    def refuse(*_args, **_how):
        raise SMTPRecipientsRefused({"home@example.org": (550, b"unknown")})

    monkeypatch.setattr("studio.family.mail.send_mail", refuse)
    answer = as_owner.post(reverse("studio:new-card", args=[guardian.pk]), {"mail": "1"}, follow=True)
    assert "could not be sent" in words_of(answer) and "still opens" in words_of(answer)
    assert Client().get(f"/family/card/{token}/").status_code == 302
    assert guardian.keys.filter(ended_at__isnull=True).count() == 1


def test_a_line_break_in_the_studios_name_stops_no_mail(as_owner, cast, guardian, settings):
    settings.MAIL_URL = "smtp://mail.example"
    Studio.objects.update(name="Larkmere\nBallet Studio")
    as_owner.post(reverse("studio:new-card", args=[guardian.pk]), {"mail": "1"})
    assert mail.outbox[0].subject == "A page for you from Larkmere Ballet Studio"


def test_without_mail_nothing_is_sent_and_the_card_is_shown(as_owner, cast, guardian):
    answer = as_owner.post(reverse("studio:new-card", args=[guardian.pk]), {"mail": "1"})
    assert (len(tokens_on(answer)), mail.outbox) == (1, [])


def test_a_card_speaks_her_language_and_carries_the_address_for_families(as_owner, cast, guardian):
    cast.studio.family_address = "https://studio.example/"
    cast.studio.save()
    guardian.language_code = "de"
    guardian.save()
    page = make_cards(as_owner, cast, paper="letter").content.decode()
    assert "https://studio.example/family/card/" in page
    assert "Geburtsdatum Ihres Kindes" in page and 'class="paper paper-letter"' in page


# --- all of them ---------------------------------------------------------------------------------


def test_all_cards_are_made_anew_in_one_step_and_no_old_one_opens(as_owner, cast, guardian):
    [old] = tokens_on(make_cards(as_owner, cast))
    cast.studio.family_address = "https://new.example"
    cast.studio.save()
    path = reverse("studio:all-cards")
    assert tokens_on(as_owner.post(path, {"paper": "a4"})) == []
    page = as_owner.post(path, {"paper": "a4", "anew": "1"})
    [new] = tokens_on(page)
    assert f"https://new.example/family/card/{new}/" in page.content.decode()
    assert [Client().get(f"/family/card/{token}/").status_code for token in (old, new)] == [404, 302]


def test_who_has_no_card_is_listed_with_the_reason(as_owner, cast, guardian):
    path = reverse("studio:all-cards")

    def lacking():
        return {(row.student.name, row.why) for row in as_owner.get(path).context["lacking"]}

    nobody = ("Bettina Krall", "no guardian is on record")
    assert {(cast.ama.name, "no card was made yet"), nobody} <= lacking()
    agree(cast, cast.ama, "family", is_given=False)
    assert (cast.ama.name, "the family wants no page") in lacking()
    agree(cast, cast.ama, "family")
    type(cast.ama).objects.filter(pk=cast.ama.pk).update(birth_on=None)
    assert (cast.ama.name, "no birth date of a child is known") in lacking()
    cast.ama.consents.all().delete()
    assert (cast.ama.name, "the form for the page is not back") in lacking()
    type(cast.ama).objects.filter(pk=cast.ama.pk).update(birth_on=cast.ama.birth_on)
    agree(cast, cast.ama, "family")
    make_cards(as_owner, cast)
    assert cast.ama.name not in {name for name, _why in lacking()}


# --- the square ----------------------------------------------------------------------------------


def modules_of(svg: str) -> np.ndarray:
    """The black squares of the drawing, read back from its one path of horizontal strokes."""
    root = ET.fromstring(svg)  # noqa: S314  (our own drawing)
    size = int(root.attrib["viewBox"].split()[2])
    dark = np.zeros((size, size), bool)
    x = y = 0.0
    for letter, numbers in re.findall(r"([Mmh])([^Mmh]*)", root.findall("path")[1].attrib["d"]):
        values = [float(n) for n in re.findall(r"-?[\d.]+", numbers)]
        if letter == "h":
            dark[int(y), int(x):int(x + values[0])] = True
            x += values[0]
        elif letter == "M":
            x, y = values
        else:
            x, y = x + values[0], y + values[1]
    return dark


def test_the_square_has_the_three_corners_and_the_quiet_border_of_its_standard():
    """ISO/IEC 18004: finder patterns of 7 modules in three corners, a quiet zone of 4 modules (from memory)."""
    dark = modules_of(link_square("https://studio.example/family/card/" + "A" * 22 + "/"))
    assert not dark[:4].any() and not dark[-4:].any() and not dark[:, :4].any() and not dark[:, -4:].any()
    finder = np.ones((7, 7), bool)
    finder[1:6, 1:6] = False
    finder[2:5, 2:5] = True
    inner = dark[4:-4, 4:-4]
    for corner in (inner[:7, :7], inner[:7, -7:], inner[-7:, :7]):
        assert (corner == finder).all()
