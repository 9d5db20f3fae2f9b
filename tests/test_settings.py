"""What the environment may say, and what the start makes of it; each start is a process of its own."""
import os
import re
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.urls import reverse

from studio import settings as house
from studio.locale import computers_time_zone
from studio.models import Studio

CHECKOUT = Path(__file__).resolve().parents[1]
KEY = "k" * 30 + "ballet-studio-key-of-at-least-fifty-letters-0123456789"


def started(var, *command, **environment):
    """Starts Risebook's commands with nothing in the environment but what is given."""
    ours = ("RISEBOOK_", "DATABASE_", "DJANGO_")
    bare = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    return subprocess.run(
        [sys.executable, "manage.py", *command], cwd=CHECKOUT, capture_output=True, text=True, timeout=60,
        env=bare | {"RISEBOOK_VAR_DIR": str(var)} | environment,
    )


@pytest.mark.parametrize("name, value, sentence", [
    ("RISEBOOK_HOST", "studio.example", "Unknown setting RISEBOOK_HOST. Known: RISEBOOK_ADDRESS, RISEBOOK_DEBUG, "),
    ("RISEBOOK_TLS", "maybe", "RISEBOOK_TLS is 'maybe'; say yes or no."),
    ("RISEBOOK_NETWORK", "yes", "RISEBOOK_NETWORK is 'yes'; give the port for HTTPS, from 1 to 65534."),
    ("RISEBOOK_NETWORK", "65535", "RISEBOOK_NETWORK is '65535'; give the port for HTTPS"),
    ("RISEBOOK_MAIL_URL", "mail.example", "RISEBOOK_MAIL_URL is not understood. Example: smtp+tls://"),
    ("RISEBOOK_LINKS", "studio.example", "RISEBOOK_LINKS is 'studio.example'; give a whole address"),
    ("RISEBOOK_LOG", "all", "RISEBOOK_LOG is 'all'; say lines or json"),
    ("RISEBOOK_SECRET_KEY", "short", "RISEBOOK_SECRET_KEY is shorter than 50 characters."),
])
def test_a_word_that_is_not_understood_stops_the_start_with_one_sentence(tmp_path, name, value, sentence):
    stopped = started(tmp_path, "check", **{name: value})
    assert stopped.returncode == 1
    assert stopped.stderr.startswith(sentence)
    assert len(stopped.stderr.splitlines()) == 1


def test_every_setting_that_is_read_is_known_and_every_known_one_is_read():
    text = (CHECKOUT / "studio" / "settings.py").read_text()
    read = set(re.findall(r"(?:flag|get|env\.\w+)\(\"(RISEBOOK_\w+)\"", text))
    assert read == house.KNOWN


@pytest.mark.parametrize("word, meaning", [
    ("yes", True), ("YES", True), (" 1 ", True), ("true", True), ("no", False), ("0", False), ("False", False),
    ("", True),
])
def test_yes_and_no_are_understood_however_they_are_written(monkeypatch, word, meaning):
    monkeypatch.setenv("RISEBOOK_TLS", word)
    assert house.flag("RISEBOOK_TLS", True) is meaning


def test_any_other_word_is_refused(monkeypatch):
    monkeypatch.setenv("RISEBOOK_TLS", "on")
    with pytest.raises(ImproperlyConfigured):
        house.flag("RISEBOOK_TLS", True)


# --- the key -------------------------------------------------------------------------------------


@pytest.fixture
def var(tmp_path, monkeypatch):
    monkeypatch.setattr(house, "VAR_DIR", tmp_path / "var")
    monkeypatch.delenv("RISEBOOK_SECRET_KEY", raising=False)
    return tmp_path / "var"


def test_the_key_is_made_once_for_its_owner_only(var):
    key = house.secret_key()
    assert house.secret_key() == key == (var / "secret-key").read_text()
    assert len(key) >= 50
    assert stat.S_IMODE((var / "secret-key").stat().st_mode) == 0o600


def test_two_studios_have_two_keys(var, monkeypatch, tmp_path):
    first = house.secret_key()
    monkeypatch.setattr(house, "VAR_DIR", tmp_path / "other")
    assert house.secret_key() != first


@pytest.mark.parametrize("content", ["", "short"])
def test_a_key_that_was_cut_short_stops_the_start(monkeypatch, tmp_path, content):
    monkeypatch.delenv("RISEBOOK_SECRET_KEY", raising=False)
    monkeypatch.setattr(house, "VAR_DIR", tmp_path)
    (tmp_path / "secret-key").write_text(content)
    with pytest.raises(ImproperlyConfigured, match="is empty or cut short. Put it back from a backup"):
        house.secret_key()


def test_of_several_that_start_at_once_all_have_the_key_of_the_first(monkeypatch, tmp_path):
    monkeypatch.delenv("RISEBOOK_SECRET_KEY", raising=False)
    monkeypatch.setattr(house, "VAR_DIR", tmp_path)
    real, made = os.link, []

    def and_another_was_first(beside, path):
        if not made:
            made.append("f" * 86)
            path.write_text(made[0])
        real(beside, path)

    monkeypatch.setattr(os, "link", and_another_was_first)
    assert house.secret_key() == made[0]
    assert [path.name for path in tmp_path.iterdir()] == ["secret-key"]


def test_a_key_from_the_environment_goes_first_and_is_not_written_down(var, monkeypatch):
    monkeypatch.setenv("RISEBOOK_SECRET_KEY", KEY)
    assert house.secret_key() == KEY
    assert not var.exists()


def test_behind_tls_the_studio_speaks_for_its_own_name_only(tmp_path):
    """`includeSubDomains` and `preload` would bind names that are not Risebook's to bind."""
    ask = "from django.conf import settings as s; print(s.SECURE_HSTS_INCLUDE_SUBDOMAINS, s.SECURE_HSTS_PRELOAD)"
    assert started(tmp_path, "shell", "--verbosity", "0", "-c", ask, RISEBOOK_TLS="yes").stdout == "False False\n"


# --- a start behind TLS --------------------------------------------------------------------------


def test_djangos_own_check_for_a_public_address_has_nothing_to_say(tmp_path):
    public = {"RISEBOOK_TLS": "yes", "RISEBOOK_HOSTS": "studio.example"}
    said = started(tmp_path, "check", "--deploy", "--fail-level", "INFO", **public)
    assert (said.stdout, said.stderr) == ("System check identified no issues (2 silenced).\n", "")
    assert said.returncode == 0


SAFETY = (
    "from django.conf import settings as s; print(s.NETWORK is not None, s.SESSION_COOKIE_SECURE, "
    "s.CSRF_COOKIE_SECURE, s.SECURE_HSTS_SECONDS, s.SECURE_PROXY_SSL_HEADER, 'studio.example' in list(s.ALLOWED_HOSTS))"
)


@pytest.mark.parametrize("environment, outcome", [
    ({}, "False False False 0 None False"),
    # A tablet told to insist on HTTPS could never again open the plain page on which it learns to trust.
    ({"RISEBOOK_NETWORK": "8443"}, "True True True 0 None False"),
    ({"RISEBOOK_NETWORK": "8443", "RISEBOOK_HOSTS": "studio.example"}, "True True True 0 None True"),
    ({"RISEBOOK_NETWORK": "8443", "RISEBOOK_HOSTS": "studio.example", "RISEBOOK_TLS": "yes"},
     "False True True 31536000 ('HTTP_X_FORWARDED_PROTO', 'https') True"),
])
def test_cookies_and_headers_are_as_safe_as_the_way_in_allows(tmp_path, environment, outcome):
    """Behind a web server that speaks HTTPS, the network of one's own steps aside."""
    assert started(tmp_path, "shell", "--verbosity", "0", "-c", SAFETY, **environment).stdout == outcome + "\n"


def test_behind_tls_the_browser_itself_refuses_cookies_from_elsewhere(tmp_path):
    """The prefix of RFC 6265bis, 4.1.3.2: secure, of this host alone, for every path."""
    ask = ("from django.conf import settings as s; print(s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME, "
           "s.TABLET_COOKIE_NAME, s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE, s.SESSION_COOKIE_DOMAIN, "
           "s.CSRF_COOKIE_DOMAIN, s.SESSION_COOKIE_PATH, s.CSRF_COOKIE_PATH, s.SECURE_HSTS_SECONDS)")
    for way_in, seconds in ({"RISEBOOK_TLS": "yes"}, 31536000), ({"RISEBOOK_NETWORK": "8443"}, 0):
        said = started(tmp_path, "shell", "--verbosity", "0", "-c", ask, **way_in)
        assert said.stdout == f"__Host-sessionid __Host-csrftoken __Host-tablet True True None None / / {seconds}\n"


def test_a_plain_start_is_closed_to_strange_hosts_and_shows_no_inside(tmp_path):
    ask = "from django.conf import settings as s; print(s.DEBUG, s.ALLOWED_HOSTS, s.SECURE_SSL_REDIRECT)"
    said = started(tmp_path, "shell", "--verbosity", "0", "-c", ask)
    assert said.stdout == "False ['localhost', '127.0.0.1', '[::1]'] False\n"


def test_no_change_of_a_model_waits_for_its_migration(db):
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)


def test_the_time_zone_is_a_city_of_a_list_and_an_older_name_stays_choosable(as_owner, cast):
    page = as_owner.get("/office/studio/").content.decode()
    assert '<optgroup label="Europe">' in page and '<option value="Europe/Vienna">Vienna</option>' in page
    Studio.objects.update(time_zone="GMT")
    assert '<option value="GMT" selected>GMT</option>' in as_owner.get("/office/studio/").content.decode()


def test_a_choice_not_yet_made_is_a_word_and_no_row_of_hyphens(as_owner, cast):
    page = as_owner.get(reverse("studio:add-student", args=[cast.class_group.pk])).content.decode()
    assert ">choose</option>" in page and "---" not in page


def test_the_time_zone_of_a_new_studio_is_the_computers(db, monkeypatch):
    monkeypatch.setattr("studio.actions.computers_time_zone", lambda: "Europe/Vienna")
    call_command("first_start", "--empty", verbosity=0)
    assert Studio.objects.get().time_zone == "Europe/Vienna"


@pytest.mark.parametrize("says, links, zone", [
    ("Europe/Vienna\n", None, "Europe/Vienna"), ("", "America/Lima", "America/Lima"),
    (None, "Asia/Tokyo", "Asia/Tokyo"),
    ("Mars/Olympus", None, "Europe/London"), (None, None, "Europe/London"), (None, "Mars/Olympus", "Europe/London"),
])
def test_the_computers_time_zone_is_read_where_it_says_one_and_else_stays_the_usual(tmp_path, says, links, zone):
    if says is not None:
        (tmp_path / "timezone").write_text(says)
    if links is not None:
        (tmp_path / "localtime").symlink_to(f"/usr/share/zoneinfo/{links}")
    assert computers_time_zone(tmp_path) == zone


def test_no_page_takes_a_time_zone_as_free_text(as_owner, cast):
    page = as_owner.get("/office/studio/").content.decode()
    assert '<select name="time_zone"' in page and '<input type="text" name="time_zone"' not in page


# --- nobody else's on this computer --------------------------------------------------------------------------------


def test_a_folder_that_is_made_elsewhere_is_closed_to_every_other_account(tmp_path):
    tmp_path.chmod(0o755)
    var = tmp_path / "elsewhere"
    started(var, "shell", "--no-imports", "-c",
            "from django.db import connection; connection.cursor().execute('create table x (y)')")
    modes = {file.name: stat.S_IMODE(file.stat().st_mode) & 0o077 for file in [var, *var.iterdir()]}
    assert "risebook.sqlite3" in modes and set(modes.values()) == {0}


def test_a_database_that_an_older_version_left_readable_is_closed(tmp_path):
    (tmp_path / "risebook.sqlite3").touch(mode=0o644)
    (tmp_path / "risebook.sqlite3").chmod(0o644)
    started(tmp_path, "check")
    assert stat.S_IMODE((tmp_path / "risebook.sqlite3").stat().st_mode) == 0o600
