"""A private link and a birth date open one family's page; guessing, replaying and swapping open nothing."""
import datetime as dt
import io
import logging
import re
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.actions import Refused
from studio.family import actions
from studio.family.device import FOLLOWED, KNOWN
from studio.family.log import LinklessFormatter
from studio.family.queries import links_of
from studio.models import GuardianKey, KeyTry
from tests.conftest import TODAY
from tests.family.conftest import family_of, open_page

ENTRANCE = "/family/entrance/"
WRONG = dt.date(2013, 1, 1)


def page(student) -> str:
    return reverse("progress:family-child", args=[student.pk])


# --- the way in ----------------------------------------------------------------------------------


def test_a_link_and_the_birth_date_open_the_page_and_the_device_is_not_asked_again(cast, amas):
    answer = amas.client.get(page(cast.ama))
    assert (answer.status_code, "Ama" in answer.content.decode()) == (200, True)
    assert amas.client.get(amas.link).headers["Location"] == reverse("progress:family")


def test_the_link_leads_at_once_to_an_address_without_it(cast, amas):
    answer = Client().get(amas.link)
    assert (answer.status_code, answer.headers["Location"]) == (302, ENTRANCE)
    assert amas.token not in answer.headers["Location"]


def test_another_device_is_asked_anew(cast, amas):
    assert Client().get(page(cast.ama)).status_code == 404


def test_a_token_is_128_bits_long_and_only_its_hash_is_kept(cast, amas):
    kept = GuardianKey.objects.get()
    assert re.fullmatch(r"[A-Za-z0-9_-]{22}", amas.token)
    assert kept.token_hash == actions.token_hash(amas.token) and len(kept.token_hash) == 64
    assert amas.token not in "".join(str(value) for value in GuardianKey.objects.values_list().get())


def test_a_guardian_has_one_standing_link_at_a_time(cast, amas):
    with pytest.raises(IntegrityError), transaction.atomic():
        GuardianKey.objects.create(
            guardian=amas.guardian, token_hash="x", valid_until=TODAY, made_by=cast.owner
        )


def test_siblings_are_behind_one_link_each_with_her_own_page(cast, amas):
    amas.guardian.students.add(cast.bettina)
    actions.record_consent(
        student=cast.bettina, scopes=["family"], is_given=True, said_by="x", way="form", at=timezone.now(),
        by=cast.owner,
    )
    listed = amas.client.get(reverse("progress:family")).content.decode()
    assert page(cast.ama) in listed and page(cast.bettina) in listed
    assert "Bettina" not in amas.client.get(page(cast.ama)).content.decode()


def test_two_guardians_of_one_child_have_links_of_their_own(cast, amas):
    second = family_of(cast, cast.ama)
    actions.end_key(guardian=second.guardian, by=cast.owner)
    assert second.client.get(page(cast.ama)).status_code == 404
    assert amas.client.get(page(cast.ama)).status_code == 200


# --- what opens nothing --------------------------------------------------------------------------


@pytest.mark.parametrize("token", ["x", "A" * 22, "../../office", "%00", "a" * 500])
def test_a_guessed_link_opens_nothing_and_sets_no_cookie(cast, amas, token):
    answer = Client().get(f"/family/card/{token}/")
    assert answer.status_code in (400, 404)
    assert not {KNOWN, FOLLOWED} & set(answer.cookies)


def test_unknown_ended_and_expired_links_are_answered_alike(cast, amas, gretas, time_machine):
    unknown = Client().get(f"/family/card/{'A' * 22}/").content
    actions.end_key(guardian=amas.guardian, by=cast.owner)
    assert Client().get(amas.link).content == unknown
    time_machine.move_to(dt.datetime(2026, 5, 6, 12, tzinfo=dt.UTC))
    assert Client().get(gretas.link).content == unknown


@pytest.mark.parametrize("accepted, words, code", [
    ("de-AT,de;q=0.9,en;q=0.8", "Diese Seite lässt sich nicht öffnen", "de"),
    ("fr,de;q=0.4", "Diese Seite lässt sich nicht öffnen", "de"),
    ("en-US,de;q=0.5", "This page does not open", "en-gb"),
    ("", "This page does not open", "en-gb"), ("fr", "This page does not open", "en-gb"), ("*", "This page", "en-gb"),
])
def test_whose_link_opens_nothing_reads_why_in_her_browsers_language(cast, accepted, words, code):
    """RFC 9110, 12.5.4: the languages she asks for, the first one first."""
    page = Client().get(f"/family/card/{'A' * 22}/", headers={"Accept-Language": accepted}).content.decode()
    assert f"<h1>{words}" in page and f'<html lang="{code}">' in page


def test_a_link_is_valid_until_thirty_days_after_the_term(cast, amas, time_machine):
    assert GuardianKey.objects.get().valid_until == cast.term.ends_on + dt.timedelta(days=30)
    time_machine.move_to(dt.datetime.combine(cast.term.ends_on + dt.timedelta(days=30), dt.time(12), dt.UTC))
    assert amas.client.get(page(cast.ama)).status_code == 200
    time_machine.move_to(dt.datetime.combine(cast.term.ends_on + dt.timedelta(days=31), dt.time(12), dt.UTC))
    assert amas.client.get(page(cast.ama)).status_code == 404


@pytest.mark.parametrize(("later", "stands"), [(-1, True), (0, True), (1, False)])
def test_the_office_shows_a_link_until_the_last_day_on_which_it_opens(cast, amas, later, stands):
    day = GuardianKey.objects.get().valid_until + dt.timedelta(days=later)
    [link] = links_of(cast.ama, today=day)
    assert (link.guardian, link.key is not None, link.devices) == (amas.guardian, stands, 1 if stands else 0)


def test_an_old_link_is_dead_when_a_new_card_is_made_and_so_is_every_device(cast, amas):
    new = actions.make_key(guardian=amas.guardian, term=cast.term, by=cast.owner)
    assert Client().get(amas.link).status_code == 404
    assert amas.client.get(page(cast.ama)).status_code == 404
    assert Client().get(f"/family/card/{new}/").status_code == 302


def test_a_followed_link_that_was_ended_meanwhile_asks_for_no_date(cast):
    family = family_of(cast, cast.ama, opened=False)
    family.client.get(family.link)
    actions.end_key(guardian=family.guardian, by=cast.owner)
    assert family.client.post(ENTRANCE, {"birth_on": cast.ama.birth_on.isoformat()}).status_code == 404
    assert not KeyTry.objects.exists()


def test_no_other_child_is_there_by_swapping_the_number(cast, amas, gretas):
    for child in (cast.bettina, cast.other_student, cast.out_of_reach):
        for name in ("family-child", "family-kept"):
            answer = amas.client.get(reverse(f"progress:{name}", args=[child.pk]))
            assert (answer.status_code, child.first_name in answer.content.decode()) == (404, False)
        assert amas.client.post(reverse("progress:family-take-back", args=[child.pk]),
                                {"scope": "family"}).status_code == 404
    assert not cast.bettina.consents.exists()


def test_a_cookie_of_one_link_does_not_open_another_by_changing_it(cast, amas, gretas):
    thief = Client()
    for name in (KNOWN, FOLLOWED):
        body, _, signature = amas.client.cookies[KNOWN].value.rpartition(":")
        for forged in (body + "x:" + signature, gretas.client.cookies[KNOWN].value[:-2] + "AA", "", "x"):
            thief.cookies[name] = forged
            assert thief.get(page(cast.ama)).status_code == 404
    # What says that a link was followed does not say that a date was right.
    follower = Client()
    follower.get(amas.link)
    thief.cookies[KNOWN] = follower.cookies[FOLLOWED].value
    assert thief.get(page(cast.ama)).status_code == 404


def test_who_is_no_longer_a_guardian_sees_nothing_of_the_child(cast, amas, as_owner):
    as_owner.post(reverse("studio:remove-guardian", args=[cast.ama.pk, amas.guardian.pk]))
    assert amas.client.get(page(cast.ama)).status_code == 404
    assert amas.client.get(reverse("progress:family")).status_code == 404
    assert Client().get(amas.link).status_code == 404


# --- guessing birth dates ------------------------------------------------------------------------


def guess(client, birth_on=WRONG):
    return client.post(ENTRANCE, {"birth_on": birth_on.isoformat()})


def test_a_wrong_date_is_said_to_be_wrong_and_opens_nothing(cast):
    family = family_of(cast, cast.ama, opened=False)
    answer = open_page(family, WRONG)
    assert (answer.status_code, b"not the birth date" in answer.content) == (422, True)
    assert family.client.get(page(cast.ama)).status_code == 404


def test_after_five_wrong_dates_an_hour_passes_before_even_the_right_one_is_looked_at(cast, time_machine):
    family = family_of(cast, cast.ama, opened=False)
    family.client.get(family.link)
    for _n in range(5):
        guess(family.client)
    assert b"Wait an hour" in guess(family.client, cast.ama.birth_on).content
    assert KeyTry.objects.count() == 5
    time_machine.shift(dt.timedelta(minutes=61))
    assert open_page(family, cast.ama.birth_on).status_code == 302


@pytest.mark.parametrize("seconds, is_looked_at", [(-1, False), (0, True), (1, True)])
def test_the_hour_of_a_wrong_date_is_over_when_it_is_an_hour_old(cast, time_machine, seconds, is_looked_at):
    key, now = family_of(cast, cast.ama, opened=False).guardian.keys.get(), timezone.now()
    KeyTry.objects.bulk_create(KeyTry(key=key, was_right=False) for _n in range(actions.WRONG_IN_AN_HOUR))
    later = now + dt.timedelta(hours=1, seconds=seconds)
    time_machine.move_to(later, tick=False)
    if is_looked_at:
        assert actions.try_birth_date(key=key, birth_on=cast.ama.birth_on, at=later)
    else:
        with pytest.raises(Refused, match="Wait an hour"):
            actions.try_birth_date(key=key, birth_on=cast.ama.birth_on, at=later)


def test_after_fifteen_wrong_dates_a_link_is_of_no_use_until_it_is_made_anew(cast, time_machine):
    family = family_of(cast, cast.ama, opened=False)
    for _hour in range(3):
        for _n in range(5):
            open_page(family, WRONG)
        time_machine.shift(dt.timedelta(minutes=61))
    assert b"Ask the studio for a new one" in open_page(family, cast.ama.birth_on).content
    family.token = actions.make_key(guardian=family.guardian, term=cast.term, by=cast.owner)
    assert open_page(family, cast.ama.birth_on).status_code == 302


def test_guessing_behind_one_link_locks_no_other_family_out(cast, amas):
    greta = family_of(cast, cast.other_student, opened=False)
    KeyTry.objects.bulk_create(
        KeyTry(key=amas.guardian.keys.get(), was_right=False) for _n in range(actions.WRONG_IN_THE_STUDIO)
    )
    assert amas.client.get(page(cast.ama)).status_code == 200
    assert open_page(greta, cast.other_student.birth_on).status_code == 302


def test_while_many_guess_in_the_studio_a_link_with_a_wrong_date_of_its_own_waits(cast, amas):
    greta = family_of(cast, cast.other_student, opened=False)
    KeyTry.objects.bulk_create(
        KeyTry(key=amas.guardian.keys.get(), was_right=False) for _n in range(actions.WRONG_IN_THE_STUDIO)
    )
    open_page(greta, WRONG)
    assert b"Wait an hour" in open_page(greta, cast.other_student.birth_on).content


@pytest.mark.parametrize("text", ["", "never", "2014-13-01", "\x00", "٢٠١٤-٠٥-٠١", "9999-99-99", "2014-05-01T00:00"])
def test_what_is_no_date_is_no_try(cast, text):
    family = family_of(cast, cast.ama, opened=False)
    family.client.get(family.link)
    assert family.client.post(ENTRANCE, {"birth_on": text}).status_code == 422
    assert not KeyTry.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_twenty_wrong_dates_at_once_are_counted_like_twenty_in_a_row(cast):
    key = family_of(cast, cast.ama, opened=False).guardian.keys.get()

    def one_try(_n: int) -> bool:
        try:
            actions.try_birth_date(key=key, birth_on=WRONG, at=timezone.now())
        except Refused:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(8) as pool:
        looked_at = list(pool.map(one_try, range(20)))
    assert sum(looked_at) == KeyTry.objects.count() == actions.WRONG_IN_AN_HOUR


def test_a_guardian_none_of_whose_children_has_a_birth_date_gets_no_link(cast, amas):
    cast.ama.birth_on = None
    cast.ama.save()
    with pytest.raises(Refused, match="birth date"):
        actions.make_key(guardian=amas.guardian, term=cast.term, by=cast.owner)


# --- what stays behind ---------------------------------------------------------------------------


FAMILY_ADDRESSES = ("/family/", ENTRANCE, "/family/card/{token}/", "/family/{child}/", "/family/{child}/kept/")


@pytest.mark.parametrize("path", FAMILY_ADDRESSES)
@pytest.mark.parametrize("opened", [True, False])
def test_no_page_of_a_family_is_listed_kept_or_told_to_another_site(cast, path, opened):
    family = family_of(cast, cast.ama, opened=opened)
    answer = family.client.get(path.format(token=family.token, child=cast.ama.pk))
    assert answer.headers["Referrer-Policy"] == ("no-referrer" if "token" in path else "same-origin")
    assert answer.headers["X-Robots-Tag"] == "noindex, nofollow, noarchive"
    assert answer.headers["Cache-Control"] == "no-store, private"
    if answer.content:
        assert b'content="noindex, nofollow, noarchive"' in answer.content
        assert family.token not in answer.content.decode()
        assert not re.search(rb"<script|https?://(?!testserver)", answer.content)


def test_the_device_cookie_is_out_of_reach_of_scripts_ends_with_the_link_and_goes_to_family_pages_only(cast, amas):
    cookie = amas.client.cookies[KNOWN]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/family/")
    days = (cast.term.ends_on + dt.timedelta(days=30) - TODAY).days + 1
    assert cookie["max-age"] == days * 24 * 3600
    assert "2014" not in cookie.value and amas.token not in cookie.value


def test_behind_tls_the_cookie_never_travels_in_the_open(cast, settings):
    settings.SESSION_COOKIE_SECURE = True
    family = family_of(cast, cast.ama)
    assert family.client.cookies[KNOWN]["secure"] is True


def test_a_device_that_is_closed_knows_nothing_any_more(cast, amas):
    amas.client.post("/family/leave/")
    assert amas.client.get(page(cast.ama)).status_code == 404


def test_a_copy_of_what_a_closed_device_kept_opens_nothing(cast, amas):
    copied = amas.client.cookies[KNOWN].value
    amas.client.post("/family/leave/")
    thief = Client()
    thief.cookies[KNOWN] = copied
    assert thief.get(page(cast.ama)).status_code == 404
    amas.client.get(amas.link)
    amas.client.post(ENTRANCE, {"birth_on": cast.ama.birth_on.isoformat()})
    assert amas.client.get(page(cast.ama)).status_code == 200
    assert thief.get(page(cast.ama)).status_code == 404


def test_no_link_gets_into_the_log_of_a_refusal_or_a_failure(cast, amas, monkeypatch):
    [handler] = [h for h in logging.getLogger().handlers if isinstance(h.formatter, LinklessFormatter)]
    written = io.StringIO()
    monkeypatch.setattr(handler, "stream", written)
    dead = "Zz" * 11
    Client().get(f"/family/card/{dead}/")
    Client().delete(amas.link)
    monkeypatch.setattr("studio.views.family_entrance.device.key_of_link", lambda *_args, **_how: 1 / 0)
    Client(raise_request_exception=False).get(amas.link)
    text = written.getvalue()
    assert "/family/card/.../" in text and "ZeroDivisionError" in text and "Method Not Allowed" in text
    assert dead not in text and amas.token not in text


def test_a_form_of_the_family_from_another_site_is_refused(cast, amas):
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = amas.client.cookies
    for path in (ENTRANCE, "/family/leave/", reverse("progress:family-take-back", args=[cast.ama.pk])):
        assert strict.post(path, {"scope": "family"}).status_code == 403
    assert cast.ama.consents.filter(is_given=False).count() == 0


def test_between_terms_and_before_the_first_there_is_a_page_all_the_same(cast, amas):
    cast.term.starts_on, cast.term.ends_on = dt.date(2026, 4, 1), dt.date(2026, 6, 1)
    cast.term.save()
    assert amas.client.get(f"/family/{cast.ama.pk}/").status_code == 200
