"""In and out: the night file, and the answers as JSON, as text and as files."""

from hourmark.exchange.against import Moved, moved, read_old
from hourmark.exchange.answers import draw_json, finding_json, findings_json, plan_json, when_json
from hourmark.exchange.checked import plan_checked
from hourmark.exchange.nightfile import read_night
from hourmark.exchange.prints import Printing
from hourmark.exchange.tables import night_from_table, plain_table, table_problems
from hourmark.exchange.write import write_plan

__all__ = [
    "Moved",
    "Printing",
    "draw_json",
    "finding_json",
    "findings_json",
    "moved",
    "night_from_table",
    "plain_table",
    "plan_checked",
    "plan_json",
    "read_night",
    "read_old",
    "table_problems",
    "when_json",
    "write_plan",
]
