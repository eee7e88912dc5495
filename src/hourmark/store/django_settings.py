"""Django's settings, made of ours. Importing this stops, by name, where a setting is wrong."""

import os
from typing import Any

from hourmark.store.settings import database, read_settings

_read = read_settings(os.environ)
if isinstance(_read, tuple):
    raise SystemExit("\n".join(f"{finding.what} {finding.do}" for finding in _read))

SETTINGS = _read
_database = database(SETTINGS.database)
assert _database is not None

DATABASES: dict[str, Any] = {"default": _database}
INSTALLED_APPS = ["hourmark.store"]
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
USE_TZ = True
TIME_ZONE = "UTC"
LOGGING_CONFIG = None
