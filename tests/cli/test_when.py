"""hourmark when: the shape of its answer, and its words."""

from typing import Any

import pytest

from tests.cli.running import answer, codes, run

KEYS = ["inject_at", "clinic", "patient", "findings", "time_data"]


def _when(
    slot: str = "2026-11-02 10:00", zone: str = "America/New_York", lead: str = "36 h", *more: str
) -> tuple[int, dict[str, Any]]:
    return answer("when", "--slot", slot, "--zone", zone, "--lead", lead, *more)


def test_the_contract_in_one_answer() -> None:
    status, found = _when()
    assert status == 0
    assert list(found) == KEYS
    clock = {
        "zone": "America/New_York",
        "local": "2026-10-31T23:00:00-04:00",
        "said": "Saturday 31 October 2026, 11:00 pm (23:00), the night of Saturday into Sunday, New York time",
    }
    assert found["inject_at"] == "2026-11-01T03:00:00Z"
    assert found["clinic"] == clock
    assert found["patient"] == clock
    assert found["time_data"] == "2026f"
    assert codes(found) == {"clock-change-between": "note"}


@pytest.mark.parametrize(
    ("lead", "local"),
    [
        ("35 h 30 min", "2026-10-31T23:30:00-04:00"),
        ("35.5 h", "2026-10-31T23:30:00-04:00"),
        ("36 hours", "2026-10-31T23:00:00-04:00"),
        ("1 hour", "2026-11-02T09:00:00-05:00"),
        ("1 min", "2026-11-02T09:59:00-05:00"),
        ("2,400 h", "2026-07-25T11:00:00-04:00"),
    ],
)
def test_leads(lead: str, local: str) -> None:
    status, found = _when(lead=lead)
    assert status == 0
    assert found["clinic"]["local"] == local


def test_the_patient_is_elsewhere() -> None:
    status, found = _when("2026-11-02 10:00", "America/New_York", "36 h", "--patient-zone", "Europe/London")
    assert status == 0
    assert found["clinic"]["zone"] == "America/New_York"
    assert found["patient"] == {
        "zone": "Europe/London",
        "local": "2026-11-01T03:00:00+00:00",
        "said": "Sunday 1 November 2026, 3:00 am (03:00), the night of Saturday into Sunday, London time",
    }
    assert codes(found)["clocks-differ"] == "note"


@pytest.mark.parametrize(
    ("slot", "night"),
    [
        ("2026-11-20 05:59", None),
        ("2026-11-20 06:00", "the night of Wednesday into Thursday"),
        ("2026-11-20 17:59", "the night of Wednesday into Thursday"),
        ("2026-11-20 18:00", None),
        ("2026-11-21 05:59", None),
        ("2026-11-21 06:00", "the night of Thursday into Friday"),
    ],
)
def test_a_night_runs_from_18_to_6(slot: str, night: str | None) -> None:
    said = _when(slot)[1]["clinic"]["said"]
    assert ("the night of" in said) == (night is not None)
    assert night is None or night in said


def test_midnight_and_noon() -> None:
    _, found = _when("2026-11-20 12:00")
    assert found["clinic"]["local"] == "2026-11-19T00:00:00-05:00"
    said = found["clinic"]["said"]
    assert (
        "12:00 midnight (00:00) at the END of Wednesday 18 November 2026 and the START of Thursday 19 November 2026"
        in said
    )
    assert "the night of Wednesday into Thursday" in said
    assert codes(found)["injection-midnight"] == "note"
    assert "12:00 noon (12:00)" in _when("2026-11-21 00:00")[1]["clinic"]["said"]


def test_first_and_second() -> None:
    _, first = _when("2026-11-01 13:30", "America/New_York", "13 h")
    _, second = _when("2026-11-01 13:30", "America/New_York", "12 h")
    assert "the FIRST time, before the clocks go back" in first["clinic"]["said"]
    assert first["clinic"]["local"] == "2026-11-01T01:30:00-04:00"
    assert "the SECOND time, after the clocks go back" in second["clinic"]["said"]
    assert second["clinic"]["local"] == "2026-11-01T01:30:00-05:00"
    for found in (first, second):
        assert codes(found)["injection-repeated-hour"] == "ask"


def test_a_slot_in_a_repeated_hour_must_be_chosen() -> None:
    status, found = _when("2026-11-01 01:30")
    assert status == 1
    assert found["inject_at"] is found["clinic"] is found["patient"] is None
    assert found["time_data"] == "2026f"
    assert codes(found) == {"time-repeated": "stop"}
    assert "--which" in found["findings"][0]["do"]
    assert (
        _when("2026-11-01 01:30", "America/New_York", "36 h", "--which", "first")[1]["inject_at"]
        == "2026-10-30T17:30:00Z"
    )
    assert (
        _when("2026-11-01 01:30", "America/New_York", "36 h", "--which", "second")[1]["inject_at"]
        == "2026-10-30T18:30:00Z"
    )


def test_which_where_it_is_not_needed() -> None:
    status, found = _when("2026-11-02 10:00", "America/New_York", "36 h", "--which", "first")
    assert status == 0
    assert codes(found)["which-needless"] == "warn"
    assert found["inject_at"] == "2026-11-01T03:00:00Z"


def test_a_slot_in_a_skipped_hour_names_both_neighbours() -> None:
    status, found = _when("2027-03-14 02:30")
    assert status == 1
    assert found["inject_at"] is None
    assert codes(found) == {"time-skipped": "stop"}
    assert "01:59" in found["findings"][0]["do"]
    assert "03:00" in found["findings"][0]["do"]


BAD: list[tuple[str, str, str]] = [
    ("--slot", "2026-11-02", "24-hour"),
    ("--slot", "2026-11-02 10:00:00", "24-hour"),
    ("--slot", "2026-11-31 10:00", "24-hour"),
    ("--slot", "1999-12-31 10:00", "24-hour"),
    ("--slot", "2100-01-01 10:00", "24-hour"),
    ("--slot", "", "24-hour"),
    ("--zone", "EST", "Area/City"),
    ("--zone", "UTC", "Area/City"),
    ("--zone", "+05:00", "Area/City"),
    ("--zone", "america/new_york", "America/New_York"),
    ("--zone", "America/New York", "America/New_York"),
    ("--zone", "US/Eastern", "Area/City"),
    ("--zone", "", "Area/City"),
    ("--lead", "36", "36 h"),
    ("--lead", "36h", "36 h"),
    ("--lead", "-36 h", "never negative"),
    ("--lead", "36.0 h", "36"),
    ("--lead", "36,5 h", "36.5"),
    ("--lead", "0 h", "order"),
    ("--lead", "36 h 60 min", "36 h"),
    ("--lead", "2,401 h", "order"),
    ("--lead", "1.51 min", "36 h"),
    ("--lead", "\N{FULLWIDTH DIGIT THREE}6 h", "digits"),
    ("--patient-zone", "London", "Area/City"),
    ("--which", "third", "first"),
]


@pytest.mark.parametrize(
    ("option", "text", "do"), BAD, ids=[f"{option[2:]}-{place}" for place, (option, _, _) in enumerate(BAD)]
)
def test_what_cannot_be_read(option: str, text: str, do: str) -> None:
    options = {"--slot": "2026-11-02 10:00", "--zone": "America/New_York", "--lead": "36 h"} | {option: text}
    status, found = answer("when", *(part for pair in options.items() for part in pair))
    assert status == 2
    assert list(found) == KEYS
    assert all(found[key] is None for key in KEYS if key != "findings")
    assert [finding["where"] for finding in found["findings"]] == [option]
    assert codes(found) == {"unreadable": "stop"}
    if option != "--zone" or "/" in do:
        assert do in found["findings"][0]["do"] or "Did you mean" in found["findings"][0]["do"]


def test_all_that_cannot_be_read_at_once() -> None:
    status, found = _when("x", "y", "z", "--patient-zone", "p", "--which", "q")
    assert status == 2
    assert [finding["where"] for finding in found["findings"]] == [
        "--slot",
        "--zone",
        "--lead",
        "--patient-zone",
        "--which",
    ]


def test_for_people() -> None:
    result = run(
        "when",
        "--slot",
        "2026-11-02 10:00",
        "--zone",
        "America/New_York",
        "--lead",
        "36 h",
        "--patient-zone",
        "Europe/London",
    )
    assert result.exit_code == 0
    assert (
        "Inject: Sunday 1 November 2026, 3:00 am (03:00), the night of Saturday into Sunday, London time"
        in result.stdout
    )
    assert "Clinic: Saturday 31 October 2026, 11:00 pm (23:00)" in result.stdout
    assert "2026-11-01T03:00:00Z" in result.stdout
    refused = run("when", "--slot", "2026-11-01 01:30", "--zone", "America/New_York", "--lead", "36 h")
    assert refused.exit_code == 1
    assert "Inject" not in refused.stdout
    assert "STOP" in refused.stdout


@pytest.mark.parametrize("lead", ["35 h 60 min", "35 h 61 min", "35.5 h 10 min"])
def test_minutes_beside_hours_stay_below_sixty(lead: str) -> None:
    status, found = answer("when", "--slot", "2026-11-02 10:00", "--zone", "America/New_York", "--lead", lead)
    assert status == 2
    assert codes(found) == {"unreadable": "stop"}
