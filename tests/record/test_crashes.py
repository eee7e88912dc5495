"""A process that is killed takes nothing with it that was acknowledged, and leaves nothing half done."""

from pathlib import Path

import pytest

from tests.record.crashing import client_kills, kills, server_kills

SEED = 20261120
KILLS = 200
MANY = 5_000


def test_nothing_is_lost_or_torn_by_200_kills_of_a_writer(tmp_path: Path) -> None:
    survived = kills(tmp_path, KILLS, SEED)
    assert survived.kills == KILLS
    assert survived.acknowledged > KILLS


@pytest.mark.deep
def test_nothing_is_lost_or_torn_by_5_000_kills_of_a_writer(tmp_path: Path) -> None:
    survived = kills(tmp_path, MANY, SEED)
    assert survived.kills == MANY
    assert survived.acknowledged > MANY


def test_nothing_is_lost_or_torn_by_kills_of_a_server_s_clients(postgresql: str) -> None:
    assert client_kills(postgresql, 20, SEED).acknowledged > 20


def test_nothing_is_lost_or_torn_by_kills_of_a_server() -> None:
    assert server_kills(5, SEED).acknowledged > 5
