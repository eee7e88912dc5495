"""How long the board takes at 40 and 400 rows, beside a plain Django list of as many rows in the same run; and 200 reports in a burst."""

import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

CLINIC, NOW = "clinic", "2026-11-19T02:50:00Z"
_SALT = b"0123456789abcdef"


@dataclass(frozen=True)
class Board:
    """One size: pages a second and the seconds within which 95 of 100 came, for the board, its poll unchanged, and the plain list."""

    rows: int
    board: tuple[float, float]
    poll: tuple[float, float]
    plain: tuple[float, float]


@dataclass(frozen=True)
class Burst:
    """Reports sent by several at once: how many, within how many seconds, and the slowest."""

    reports: int
    seconds: float
    slowest: float


def boards(sizes: tuple[int, ...] = (40, 400), times: int = 60) -> list[Board]:
    """The board, its poll, and a plain list of as many rows, in turns."""
    found = []
    for rows in sizes:
        with _clinic(rows // 2) as client:
            digest = _digest(client.get("/night/").content.decode())
            asks: dict[str, Callable[[], Any]] = {
                "board": partial(client.get, "/night/"),
                "poll": partial(client.get, "/night/rows/", {"have": digest}),
                "plain": partial(client.get, "/plain/"),
            }
            seconds: dict[str, list[float]] = {name: [] for name in asks}
            for _ in range(times):
                for name, ask in asks.items():
                    started = time.perf_counter()
                    answer = ask()
                    seconds[name].append(time.perf_counter() - started)
                    assert answer.status_code == (204 if name == "poll" else 200), answer.status_code
            found.append(Board(rows, *(_of(seconds[name]) for name in asks)))
    return found


def burst(reports: int = 200, at_once: int = 8) -> Burst:
    """Reports of as many injections, several people at once, each through its own form."""
    from django.contrib.auth import get_user_model
    from django.db import connections
    from django.test import Client

    with _clinic(reports) as first:
        keys = [f"report-{number}" for number in range(reports)]
        clients = []
        for _ in range(at_once):
            client = Client(SERVER_NAME="localhost")
            client.force_login(get_user_model().objects.get(username="kowal"))
            clients.append(client)

        def send(number: int) -> float:
            form = {
                "key": keys[number],
                "time": "20:45",
                "day": "2026-11-18",
                "zone": "America/Chicago",
                "amount": "all",
                "remains": "nothing",
                "told_by": "she herself",
                "source": "she remembers",
            }
            started = time.perf_counter()
            answer = clients[number % at_once].post(f"/cases/B-{number}/night/agonist/given/", form)
            seconds = time.perf_counter() - started
            assert answer.status_code in (200, 302), answer.status_code
            return seconds

        def share(place: int) -> list[float]:
            try:
                return [send(number) for number in range(place, reports, at_once)]
            finally:
                connections.close_all()

        started = time.perf_counter()
        with ThreadPoolExecutor(at_once) as pool:
            taken = [one for some in pool.map(share, range(at_once)) for one in some]
        whole = time.perf_counter() - started
        from hourmark.web.work import desk_of

        states = desk_of(CLINIC).states()
        assert all(len(states.case(f"B-{number}").confirmations) == 1 for number in range(reports))
        assert first is not None
    return Burst(reports, whole, max(taken))


def _of(seconds: list[float]) -> tuple[float, float]:
    return len(seconds) / sum(seconds), statistics.quantiles(seconds, n=20)[-1]


def _digest(page: str) -> str:
    return page.partition('data-digest="')[2].partition('"')[0]


@contextmanager
def _clinic(cases: int) -> Iterator[Any]:
    """A browser in front of a clinic with so many released cases of two injections each, and a plain list beside them."""
    from django.contrib.auth import get_user_model
    from django.db import connections
    from django.test import Client, override_settings

    from hourmark.store.setup import migrate
    from hourmark.web import work
    from hourmark.web.models import Member, Person, WatchBeat

    with tempfile.TemporaryDirectory() as folder:
        settings: dict[str, Any] = connections["default"].settings_dict
        connections["default"].close()
        settings["NAME"] = str(Path(folder) / "record.sqlite")
        migrate("default")
        work._DESKS.clear()
        _released(cases)
        user = get_user_model().objects.create_user(username="kowal", password="a long enough password")
        Member.objects.create(user=user, clinic=CLINIC, name="A. Kowal", role="nurse")
        Person.objects.bulk_create(
            Person(
                clinic=CLINIC,
                case=f"B-{number}",
                initials="B. B.",
                name="Invented",
                born="1990-01-01",
                phones="+1 555 0100",
            )
            for number in range(cases)
        )
        WatchBeat.objects.create(clinic=CLINIC, at=NOW)
        before, work.instant = work.instant, lambda: NOW
        try:
            with override_settings(ROOT_URLCONF="bench.plain_list", SECOND_FACTOR=False):
                client = Client(SERVER_NAME="localhost")
                client.force_login(user)
                yield client
        finally:
            work.instant = before
            connections["default"].close()
            work._DESKS.clear()


def _released(cases: int) -> None:
    """One case of the invented evening, brought to its released page, and as many others that are just like it."""
    from hourmark.case import events as e
    from hourmark.case.shapes import from_entry, to_fact
    from hourmark.case.streams import ROLL, case_stream
    from hourmark.desk import Desk
    from hourmark.desk.evening import play
    from hourmark.exchange.evening import Evening, read_evening
    from hourmark.ledger import Act, MemoryStore, append
    from hourmark.store.database import DatabaseStore

    evening = read_evening(Path("examples/evening.toml"))
    assert isinstance(evening, Evening)
    by_now = replace(evening, acts=tuple(act for act in evening.acts if act.asked.at <= "2026-11-18T22:17:00Z"))
    seed = MemoryStore(CLINIC)
    for _ in play(Desk(seed, lambda: _SALT), by_now):
        pass
    model = [record for entry in seed.read(case_stream("K-103")) if (record := from_entry(entry)) is not None]
    rules = [record for entry in seed.read("rules") if (record := from_entry(entry)) is not None]
    store = DatabaseStore(CLINIC)
    with store.writing() as writing:
        for number, one in enumerate(rules):
            append(
                writing,
                Act(f"rules-{number}", b"", one.actor, one.at, (to_fact("rules", one.event),)),
                {},
                lambda: _SALT,
            )
        for number in range(cases):
            name = f"B-{number}"
            facts = [to_fact(ROLL, e.CaseListed(name))]
            facts += [
                to_fact(
                    case_stream(name),
                    replace(one.event, case=name) if isinstance(one.event, e.CaseOpened) else one.event,
                )
                for one in model
            ]
            append(writing, Act(f"case-{number}", b"", model[-1].actor, model[-1].at, tuple(facts)), {}, lambda: _SALT)
