"""The figures' page: for the manager and the lead alone, from the record, without a name; and how old the newest backup is."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from hourmark.case.night import Confirm, NoteIncident
from hourmark.case.orders import SignOrder
from hourmark.desk import Desk
from hourmark.store.keep import MANIFEST, newest_backup
from hourmark.web import work
from hourmark.web.pages import month
from tests.web.conftest import SECRET_NAME
from tests.web.manners import SignIn, do, heads, is_not_for, knows_only, sends_to_sign_in
from tests.web.seen import look

PATH = "/month/"


@pytest.fixture(autouse=True)
def morning(site: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "instant", lambda: "2026-11-19T12:00:00Z")


def kept(folder: Path, name: str, made_at: str) -> None:
    (folder / name).mkdir()
    manifest = {"made_by": "hourmark 0.1.0", "made_at": made_at, "sha256": "0", "heads": {}}
    (folder / name / MANIFEST).write_text(json.dumps(manifest), encoding="utf-8")


def test_the_figures_stand_there_by_number(sign_in: SignIn, site: Desk) -> None:
    before = heads(site)
    page = look(sign_in("brandt"), PATH)
    words = page.main()
    # By 16:25 five pages are out: three of two medicines, two of one; nobody has reported anything.
    assert page.texts("dd") == ["8", "0", "0", "0", "8", "0", "0", "0", "0"]
    assert "5 cases: the shortest" in words
    assert SECRET_NAME not in page.source
    assert heads(site) == before


def test_what_somebody_settled_is_a_figure_of_its_own(sign_in: SignIn, site: Desk) -> None:
    said = ("2026-11-18 21:02", "America/Chicago", "she herself", "the clock on her phone", "half of it", "nothing")
    do(site, Confirm("K-103", "agonist", *said), "kowal", "2026-11-19T05:00:00Z")
    decided = NoteIncident("K-103", "agonist", "half of it was lost", "Dr. L. Aumont", "it counts", settled=True)
    do(site, decided, "kowal", "2026-11-19T05:10:00Z")
    page = look(sign_in("brandt"), PATH)
    assert dict(zip(page.texts("dt"), page.texts("dd"), strict=True)) == {
        "Due": "8",
        "Given within the order's window": "0",
        "Early": "0",
        "Late": "0",
        "Unknown: nobody has said": "7",
        "Reported, and still to ask": "0",
        "Settled: something was wrong, and somebody has decided what it counts as": "1",
        "Pages voided": "0",
        "Times somebody was told": "0",
    }


def test_overrides_and_waivers_stand_there_with_their_reasons(sign_in: SignIn, site: Desk) -> None:
    table: Any = copy.deepcopy(site.states().case("K-103").order.event.order)  # type: ignore[union-attr]
    reason = "her lead was agreed with the laboratory"
    table["injections"][0]["override"] = {"by": "Dr. L. Aumont", "reason": reason, "at": "2026-11-18 15:30"}
    do(site, SignOrder("K-103", table), "aumont", "2026-11-19T05:00:00Z")
    page = look(sign_in("brandt"), PATH)
    assert "Overrides and waivers, with the reason" in page.texts("h2")
    assert f"K-103: a stop of the order overridden by Dr. L. Aumont: {reason}" in page.texts("li")
    assert page.texts("dd")[7] == "1"  # her page is void with the order that it rested on


@pytest.mark.parametrize(("asked", "says"), [("7", "The last 7 days"), ("365", "The last 365 days"), ("-1", "The last 30 days"), ("x", "The last 30 days")])  # fmt: skip
def test_it_counts_the_days_that_are_asked_for(sign_in: SignIn, asked: str, says: str) -> None:
    assert says in look(sign_in("brandt"), f"{PATH}?days={asked}").main()


def test_it_says_how_old_the_newest_backup_is(sign_in: SignIn, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(month, "SETTINGS", _Set(str(tmp_path)))
    words = look(sign_in("brandt"), PATH).main()
    assert "NO BACKUP" in words
    assert "Ring whoever runs this system, and have the backups started." in words
    kept(tmp_path, "one", "2026-11-18T12:00:00Z")
    kept(tmp_path, "two", "2026-11-19T10:30:00Z")
    (tmp_path / "not-one").mkdir()
    (tmp_path / "not-one" / MANIFEST).write_text("{", encoding="utf-8")
    assert "1 h 30 min old" in look(sign_in("brandt"), PATH).main()
    assert newest_backup(tmp_path) == "2026-11-19T10:30:00Z"


def test_it_says_that_nobody_has_said_where_backups_are(sign_in: SignIn) -> None:
    words = look(sign_in("brandt"), PATH).main()
    assert "Ring whoever runs this system, and have HOURMARK_BACKUPS set." in words


class _Set:
    def __init__(self, backups: str) -> None:
        self.backups = backups


@pytest.mark.parametrize("who", ["kowal", "aumont", "devi", "theatre"])
def test_it_is_for_the_manager_and_the_lead(sign_in: SignIn, site: Desk, who: str) -> None:
    is_not_for(sign_in, site, who, PATH, "GET")
    assert PATH not in look(sign_in(who), "/").links()


def test_another_clinics_manager_sees_their_own(sign_in: SignIn) -> None:
    assert look(sign_in("stranger"), PATH).texts("dd") == ["0"] * 9


def test_nobody_comes_in_without_signing_in(client_of_nobody: Any) -> None:
    sends_to_sign_in(client_of_nobody, PATH, "GET")


def test_other_methods_are_refused(sign_in: SignIn) -> None:
    knows_only(sign_in("brandt"), PATH, "GET")
