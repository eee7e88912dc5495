"""The desk: the one place through which the record is written, and where its states are read."""

from hourmark.desk.acts import Command
from hourmark.desk.desk import TRIES, Answer, Desk, Done, Moved
from hourmark.desk.states import Damaged, States, morning_of, recorded

__all__ = ["TRIES", "Answer", "Command", "Damaged", "Desk", "Done", "Moved", "States", "morning_of", "recorded"]
