"""Gives somebody who lost the password a new one, on the machine Risebook runs on."""
from django.core.management.base import BaseCommand, CommandError

from studio.actions import new_password
from studio.models import User


class Command(BaseCommand):
    help = "Prints a new password for a person and forgets the old one."

    def add_arguments(self, parser):
        parser.add_argument("username", nargs="?", default="owner")

    def handle(self, *args, **options):
        person = User.objects.filter(username=options["username"]).first()
        if person is None:
            raise CommandError(f"Nobody logs in as {options['username']!r}.")
        password = new_password(person=person, by=None)
        self.stdout.write(f"The new password of {person.username} is\n\n    {password}\n")
