"""Running the commands as another program would."""

import json
from typing import Any

from click.testing import CliRunner, Result

from hourmark.cli.main import cli

FINDING_KEYS = ["code", "level", "where", "what", "limit", "source", "do"]
LEVELS = ["stop", "ask", "warn", "note"]


def run(*args: str) -> Result:
    result = CliRunner().invoke(cli, args)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def answer(*args: str) -> tuple[int, dict[str, Any]]:
    """Exit status and JSON; whatever the command, its findings must have their shape."""
    result = run(*args, "--json")
    found: dict[str, Any] = json.loads(result.stdout)
    check_findings(found["findings"])
    stopped = any(finding["level"] == "stop" for finding in found["findings"])
    others = [found[key] for key in found if key != "findings"]
    unread = all(other is None for other in others) if others else result.exit_code == 2
    assert result.exit_code == (0 if not stopped else 2 if unread else 1)
    return result.exit_code, found


def check_findings(findings: list[dict[str, Any]]) -> None:
    for finding in findings:
        assert list(finding) == FINDING_KEYS
        assert finding["level"] in LEVELS
        assert finding["code"]
        assert finding["what"]
        assert finding["do"]
    places = [LEVELS.index(finding["level"]) for finding in findings]
    assert places == sorted(places)


def codes(found: dict[str, Any]) -> dict[str, str]:
    return {finding["code"]: finding["level"] for finding in found["findings"]}
