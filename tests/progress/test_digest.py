"""The daily mail: off until turned on, only what a person reaches, no name of a child, once a day."""
import datetime as dt
from smtplib import SMTPException

import pytest
from django.core import mail
from django.core.management import CommandError, call_command

from progress.actions.follow_ups import open_follow_up
from progress.models import FollowUp
from studio.models import Student, Studio


@pytest.fixture(autouse=True)
def a_mail_server(settings):
    settings.MAIL_URL, settings.DEFAULT_FROM_EMAIL = "smtp://mail.example", "studio@larkmere.example"
    settings.LINKS = "https://larkmere.example"


@pytest.fixture
def due(cast):
    """Something due for the teacher and for the other one; one for nobody but the owner."""
    for person, name in ((cast.teacher, "davit"), (cast.other_teacher, "selma"), (cast.owner, "ottoline")):
        person.email = f"{name}@larkmere.example"
        person.save()
    for child, group, kind in (
        (cast.ama, cast.class_group, FollowUp.STOP_SIGN), (cast.bettina, cast.class_group, FollowUp.NOT_MEASURED),
        (cast.other_student, cast.other_class, FollowUp.STOP_SIGN), (cast.out_of_reach, None, FollowUp.STOP_SIGN),
    ):
        days_ago = {FollowUp.STOP_SIGN: 0, FollowUp.NOT_MEASURED: 9}[kind]
        opened_on = cast.screening.held_on - dt.timedelta(days=days_ago)
        open_follow_up(student=child, kind=kind, class_group=group, opened_on=opened_on)
    return cast


def turn_on(person):
    person.gets_digest = True
    person.save()


def test_nobody_gets_it_until_the_owner_turns_it_on(due):
    call_command("send_digest")
    assert mail.outbox == []


def test_each_gets_only_what_she_reaches_and_no_name(due):
    turn_on(due.teacher)
    call_command("send_digest")
    [sent] = mail.outbox
    assert sent.to == ["davit@larkmere.example"]
    assert sent.subject == "Larkmere Ballet Studio: 2 follow-ups are due"
    assert "Stop signs: 1" in sent.body and "Not measured lately: 1" in sent.body and "1 of them is late." in sent.body
    assert "https://larkmere.example/follow-ups/?view=mine" in sent.body
    words = [word for child in Student.objects.all() for word in child.name.split()]
    assert not [word for word in words if word in sent.subject + sent.body]


def test_the_studio_turns_it_on_for_everybody(due):
    Studio.objects.update(sends_digest=True)
    call_command("send_digest")
    assert sorted(each.to[0][:5] for each in mail.outbox) == ["davit", "ottol", "selma"]
    owners = next(each for each in mail.outbox if each.to[0].startswith("ottoline"))
    assert "3 more are open" in owners.body


def test_a_second_run_on_the_same_day_sends_nothing_twice(due):
    turn_on(due.teacher)
    call_command("send_digest")
    call_command("send_digest")
    assert len(mail.outbox) == 1


def test_a_mail_that_was_refused_is_tried_again(due, monkeypatch, caplog):
    turn_on(due.teacher)

    def refuse(*args, **kwargs):
        raise SMTPException("full")

    with monkeypatch.context() as broken:
        broken.setattr("progress.actions.digest.send_mail", refuse)
        call_command("send_digest")
    call_command("send_digest")
    assert len(mail.outbox) == 1
    assert "Ama" not in caplog.text


def test_a_day_without_anything_due_sends_nothing(due):
    turn_on(due.teacher)
    FollowUp.objects.update(due_on=due.screening.held_on + dt.timedelta(days=1))
    call_command("send_digest")
    assert mail.outbox == []


def test_a_person_who_may_not_log_in_gets_nothing(due):
    turn_on(due.teacher)
    due.teacher.is_active = False
    due.teacher.save()
    call_command("send_digest")
    assert mail.outbox == []


def test_without_a_mail_server_the_command_says_what_is_missing(due, settings):
    settings.MAIL_URL = ""
    with pytest.raises(CommandError, match="RISEBOOK_MAIL_URL"):
        call_command("send_digest")


def test_it_can_be_looked_at_without_sending(due, settings, capsys):
    settings.MAIL_URL = ""
    turn_on(due.teacher)
    call_command("send_digest", "--show")
    assert "2 follow-ups are due" in capsys.readouterr().out
    assert mail.outbox == []
