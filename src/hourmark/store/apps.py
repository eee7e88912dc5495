"""The store as one of Django's applications."""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class StoreConfig(AppConfig):
    """Puts the guards back after every migration."""

    name = "hourmark.store"
    label = "store"

    def ready(self) -> None:
        """Listen for the end of migrations."""
        post_migrate.connect(_guard, sender=self)


def _guard(using: str, **_: Any) -> None:
    from hourmark.store import guards

    guards.install(using)
