"""Writes each day to people who have something due, where the owner turned it on; to be run once a day."""
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone, translation

from progress.actions.digest import send_digest
from progress.queries.digest import digest_for, people_to_write_to
from studio.models import Studio
from studio.queries import studio_day


class Command(BaseCommand):
    help = "Sends the daily digest of follow-ups: counts and links, no child's name."

    def add_arguments(self, parser):
        parser.add_argument("--show", action="store_true", help="print the mails and send none")
        parser.add_argument("--again", action="store_true", help="also to whoever got today's already")

    def handle(self, *args, show: bool, again: bool, **options):
        if not show and not (settings.MAIL_URL and settings.DEFAULT_FROM_EMAIL and settings.LINKS):
            raise CommandError(
                "No mail can be sent: set RISEBOOK_MAIL_URL, RISEBOOK_MAIL_FROM and RISEBOOK_LINKS first."
            )
        studio, now, sent = Studio.current(), timezone.now(), 0
        today = studio_day(now)
        with translation.override(studio.language_code):
            for person in people_to_write_to(is_for_all=studio.sends_digest):
                digest = digest_for(person, today=today, now=now)
                if digest is None:
                    continue
                if show:
                    self.stdout.write(f"To {person.email}\n{studio.name}: {digest.subject}\n\n{digest.body}")
                else:
                    sent += send_digest(digest=digest, today=today, studio_name=studio.name, again=again)
        if not show:
            self.stdout.write(f"{sent} mails sent.")
