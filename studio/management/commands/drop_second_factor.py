"""Takes a person's second factor away: for an owner who lost phone and recovery codes."""
from django.core.management.base import BaseCommand, CommandError

from studio.entrance.second_factor import remove_second_factor
from studio.models import User


class Command(BaseCommand):
    help = "Takes a person's second factor away; she comes in by password alone until she sets one up anew."

    def add_arguments(self, parser):
        parser.add_argument("name", help="what she types to log in")

    def handle(self, *args, name, **options):
        person = User.objects.filter(username=name).first()
        if person is None:
            raise CommandError(f"Nobody logs in as {name}.")
        remove_second_factor(person=person, by=None)
        self.stdout.write(f"{person.name} comes in by password alone.")
