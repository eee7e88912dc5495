"""Django, made ready before anything of it is imported; its default database lies in a folder of the tests' own."""

import atexit
import tempfile
from pathlib import Path

from tests.record.databases import make_ready

_folder = tempfile.TemporaryDirectory(prefix="hourmark-tests-")
atexit.register(_folder.cleanup)
make_ready(Path(_folder.name))
