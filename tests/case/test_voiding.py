"""A change voids exactly the sheets that rested on it, and names exactly what changed; the page that says so is this table."""

from dataclasses import fields
from typing import get_args

import pytest

from hourmark.case import events as e
from hourmark.case.rests import rests_on
from hourmark.case.shapes import from_entry
from hourmark.case.sheets import Release
from hourmark.desk import Command
from hourmark.exchange import keys
from tests.case.voiding import every_change
from tests.case.voiding_page import PAGE, page
from tests.case.world import CASE, NIGHT, World

CHANGES = every_change()


def rests_now(world: World, names: dict[str, str]) -> dict[str, str]:
    """What the sheet's parts are now."""
    bands = [name.removeprefix("rules.bands.") for name in names if name.startswith("rules.bands.")]
    return rests_on(world.case(), world.desk.states().rules().clinic, bands)


@pytest.mark.parametrize("what", CHANGES)
def test_one_change_at_a_time(what: str) -> None:
    change = CHANGES[what]
    world = change.sheet()
    before = world.case().sheet
    assert before is not None
    queued = len(world.messages())
    entries = world.do(*change.act(world), at=NIGHT)
    events = [recorded.event for entry in entries if (recorded := from_entry(entry))]
    voided = [event for event in events if isinstance(event, e.SheetVoided)]
    owed = [message for message in world.messages()[queued:] if message[0] == "call-owed"]
    if change.void is None:
        assert voided == []
        assert world.case().sheet == before
        assert owed == []
        assert rests_now(world, before.event.rests_on) == before.event.rests_on
        return
    assert [(one.version, one.changed) for one in voided] == [(before.event.version, change.void)]
    assert world.case().sheet is None
    assert world.case().sheets[-1].event == before.event
    assert owed == [("call-owed", CASE)]
    parts = set(change.void) - {"second check"}
    assert (rests_now(world, before.event.rests_on) != before.event.rests_on) is bool(parts)


def test_every_signed_rule_has_its_line() -> None:
    lines = " ".join(change.what for change in CHANGES.values())
    signed = {field.name for field in fields(keys.RulesKeys)} - {"signed_by", "signed_at"}
    bands = {field.name for field in fields(keys.BandsKeys)} - {"standard"}
    assert not [name for name in sorted(signed | bands) if f"`{name}`" not in lines]


def test_every_command_has_its_line() -> None:
    tried = {type(change.act(change.sheet())[0]) for change in CHANGES.values()}
    # A sheet that holds is not released again; test_sheets.py has that.
    assert set(get_args(Command)) - tried == {Release}


def test_the_page_is_what_the_table_gives() -> None:
    assert PAGE.read_text(encoding="utf-8") == page()
