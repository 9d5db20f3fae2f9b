"""Fills an empty studio with the demo: an invented house, two terms, stories to find."""
import datetime as dt
import secrets

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from progress.actions.demo import fill_in_demo
from studio.actions import Refused
from studio.queries import studio_day


class Command(BaseCommand):
    help = "Fills an empty studio with an invented one; the same every time for the same day."

    def add_arguments(self, parser):
        parser.add_argument("--as-of", type=dt.date.fromisoformat, default=None, help="the day it is in the demo")

    def handle(self, *args, **options):
        try:
            made = fill_in_demo(today=options["as_of"] or studio_day(timezone.now()))
        except Refused as refused:
            raise CommandError(str(refused)) from None
        teacher = made["teacher"]
        password = "-".join(secrets.token_hex(2) for _ in range(4))
        teacher.set_password(password)
        teacher.save(update_fields=["password"])
        self.stdout.write(f"The demo studio is in: {made['students']} students, {made['results']} results.")
        self.stdout.write(f"{teacher.name}, a teacher of one class, logs in as {teacher.username} with {password}")
