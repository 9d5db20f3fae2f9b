"""Judges every class anew from its results; what comes out equals what was stored."""
from django.core.management.base import BaseCommand

from progress.actions.standings import rebuild_standings


class Command(BaseCommand):
    help = "Throws the stored standings away and judges every class anew."

    def handle(self, *args, **options):
        self.stdout.write(f"{rebuild_standings()} classes judged anew.")
