"""A blank where something has to stand is asked for by its code, and nothing is recorded."""

from collections.abc import Callable

from django.test import Client

from hourmark.desk import Desk
from tests.web.seen import read


def test_a_case_without_anybody_in_it_is_not_opened(sign_in: Callable[[str], Client], site: Desk) -> None:
    before = list(site.store.heads())
    answer = sign_in("kowal").post("/cases/new/", {"key": "blank", "seen": "0"})
    assert answer.status_code == 422
    assert "field-blank" in read(answer).summary()
    assert list(site.store.heads()) == before
