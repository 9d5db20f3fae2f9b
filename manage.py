#!/usr/bin/env python
"""Runs Risebook's commands; knows nothing but the settings module."""
import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as problem:
        # A wrong word in the environment is for the person who wrote it, and needs no stack trace.
        sys.exit(str(problem))
