"""The time-zone data of the tzdata package, as other libraries read it."""

import zoneinfo
from collections.abc import Iterator

import pytest


@pytest.fixture
def package_zones() -> Iterator[None]:
    """The standard library's zoneinfo, reading the tzdata package and nothing of the operating system's."""
    before = zoneinfo.TZPATH
    zoneinfo.reset_tzpath(to=[])
    zoneinfo.ZoneInfo.clear_cache()
    yield
    zoneinfo.reset_tzpath(to=before)
    zoneinfo.ZoneInfo.clear_cache()
