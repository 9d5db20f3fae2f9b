"""One line a request tells how the server does, and nothing of whom it was about."""
import json
import logging

import pytest
from django.core.exceptions import MiddlewareNotUsed
from django.test import Client
from django.urls import reverse

from studio.upkeep.request_log import RequestLogMiddleware


@pytest.fixture
def lines(settings, caplog, monkeypatch):
    monkeypatch.setattr(logging.getLogger("risebook.requests"), "propagate", True)
    caplog.set_level("INFO", logger="risebook.requests")

    def asked(kind, address, person):
        settings.REQUEST_LOG = kind
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        client.get(address)
        return [record.getMessage() for record in caplog.records if record.name == "risebook.requests"]

    return asked


def test_a_line_names_the_page_and_not_the_student(cast, lines):
    [line] = lines("lines", reverse("progress:student", args=[cast.ama.pk]) + "?term=1", cast.owner)
    at, method, page, status, milliseconds = line.split()
    assert (method, page, status) == ("GET", "progress:student", "200")
    assert at.startswith("2026-03-24T17:00:00") and milliseconds.isdecimal()


def test_as_json_it_says_the_same(cast, lines):
    [line] = lines("json", "/office/", cast.owner)
    told = json.loads(line)
    assert (told["page"], told["status"], set(told)) == (
        "studio:office", 200, {"at", "method", "page", "status", "ms"})


def test_a_familys_key_is_in_no_line(cast, lines):
    address = reverse("studio:family-card", args=["a-token-that-opens-a-page"])
    [line] = lines("lines", address, cast.owner)
    assert "token" not in line and "studio:family-card" in line


def test_without_the_word_nothing_is_written(settings):
    settings.REQUEST_LOG = ""
    with pytest.raises(MiddlewareNotUsed):
        RequestLogMiddleware(lambda request: None)
