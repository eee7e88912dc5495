"""Logs as JSON, one line an entry, in UTC; names, cases and what was said of them never stand there."""

import datetime as dt
import json
import logging
import sys

_KNOWN = ("act", "outcome", "codes", "entries", "ms", "check", "streams")
"""What an entry may say beside its time, level and message; anything else that is handed over is left out."""


class JsonLines(logging.Formatter):
    """An entry as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """The line."""
        at = dt.datetime.fromtimestamp(record.created, dt.UTC)
        line = {
            "at": f"{at:%Y-%m-%dT%H:%M:%S}.{at.microsecond // 1000:03d}Z",
            "level": record.levelname.lower(),
            "from": record.name,
            "said": record.getMessage() if record.name.startswith("hourmark") else record.msg,
        }
        line |= {name: getattr(record, name) for name in _KNOWN if hasattr(record, name)}
        if record.exc_info and record.exc_info[0] is not None:
            line["fault"] = record.exc_info[0].__name__
        return json.dumps(line, ensure_ascii=False)


def log_to_standard_error(level: str) -> None:
    """Send what is logged, from that level on, to standard error."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    logging.basicConfig(handlers=[handler], level=level.upper(), force=True)
