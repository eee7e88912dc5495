"""From a finished source to tagged PDF (PDF/UA-1): one open font and no other, one typesetter a thread, every warning an error."""

import datetime as dt
import threading
import warnings
from functools import cache
from pathlib import Path
from typing import Any


class Unprintable(Exception):
    """A page that cannot be set: a sign that the font does not have, or more than a page holds."""


def typeset(source: bytes, at: dt.datetime) -> bytes:
    """The source as tagged PDF, dated `at`; the same source and moment give the same bytes.

    Raises Unprintable.
    """
    import typst

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            made = _of_this_thread().compile(source, format="pdf", pdf_standards="ua-1", timestamp=at)
        except (typst.TypstError, typst.TypstWarning) as error:
            raise Unprintable(str(error)) from error
    assert isinstance(made, bytes)
    return made


_OF_THIS_THREAD = threading.local()


def _of_this_thread() -> Any:
    """Used again a typesetter is quicker, and two threads may not share one."""
    import typst

    if not hasattr(_OF_THIS_THREAD, "typesetter"):
        _OF_THIS_THREAD.typesetter = typst.Compiler(font_paths=fonts())
    return _OF_THIS_THREAD.typesetter


@cache
def fonts() -> Any:
    """The font of every page, as the typesetter takes it. Raises Unprintable where it is not installed."""
    import fontpkg_atkinson_hyperlegible
    import typst

    folder = Path(fontpkg_atkinson_hyperlegible.__file__).parent / "files"
    found = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)])
    if "Atkinson Hyperlegible" not in found.families():
        raise Unprintable("The font of the page is not installed.")
    return found
