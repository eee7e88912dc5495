"""docs/levels.md is what the data and the worked readings give now, and every figure carries what a figure must."""

from hourmark.levels import every_fact, limits, observations
from tests.levels.page import PAGE, page
from tests.levels.worked import WORKED


def test_the_page_is_current() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), (
        "run .venv/bin/python -m tests.levels.page and read the difference"
    )


def test_the_page_holds_every_limit_observation_and_worked_reading() -> None:
    text = page()
    for name in (*limits(), *(one.id for one in WORKED)):
        assert f"| {name} |" in text
    for one in observations():
        assert one.level.cite() in text


def test_every_figure_has_its_unit_its_source_or_reason_and_its_day() -> None:
    facts = every_fact()
    assert len(facts) > 100
    for key, fact in facts.items():
        assert key.startswith("levels.")
        assert fact.text
        assert fact.source or fact.why
        assert fact.checked < fact.due()
