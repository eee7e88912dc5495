"""Django made ready, and databases given names to be used by."""

import os
from typing import Any

import django
from django.core.management import call_command
from django.db import connections

from hourmark.store.settings import database

SETTINGS_MODULE = "hourmark.store.django_settings"


def ready(module: str = SETTINGS_MODULE) -> None:
    """Make Django ready, once in a process. Raises SystemExit, by name, where a setting is wrong."""
    os.environ["DJANGO_SETTINGS_MODULE"] = module
    django.setup()


def connect(alias: str, url: str) -> str:
    """Give the database of a URL a name in this process. Raises ValueError where the URL is of no database."""
    described: Any = database(url)
    if described is None:
        raise ValueError(f"{url} is no database.")
    if alias in connections.settings:
        connections[alias].close()
        del connections[alias]
    connections.settings |= connections.configure_settings({"default": {}, alias: described}) | {
        "default": connections.settings["default"]
    }
    return alias


def migrate(alias: str) -> None:
    """Bring a database's tables to this version, and put the guards in place.

    The record's come first: a set-up that is broken off leaves a database that is empty, or known as ours.
    """
    call_command("migrate", "store", database=alias, interactive=False, verbosity=0)
    call_command("migrate", database=alias, interactive=False, verbosity=0)
    call_command("createcachetable", database=alias, verbosity=0)
