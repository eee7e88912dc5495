"""Django, made ready before anything of it is imported; its default database lies in a folder of the tests' own."""

import atexit
import os
import tempfile
from pathlib import Path

from tests.record.databases import make_ready

# The browser's driver keeps an event loop running in this thread for as long as it is open, and Django takes that for a program that
# must not wait for a database.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

_folder = tempfile.TemporaryDirectory(prefix="hourmark-tests-")
atexit.register(_folder.cleanup)
make_ready(Path(_folder.name))
