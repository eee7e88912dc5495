"""A record in memory: the plainest store there is, by which the others are judged."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from threading import RLock

from hourmark.ledger.entry import Entry, Head
from hourmark.ledger.store import Message, Queued


class MemoryStore:
    """One clinic's record, as long as the process lives."""

    def __init__(self, clinic: str) -> None:
        self.clinic = clinic
        self._streams: dict[str, list[Entry]] = {}
        self._acts: dict[str, list[Entry]] = {}
        self._queue: dict[int, Message] = {}
        self._numbers = 0
        self._lock = RLock()

    @contextmanager
    def writing(self) -> Iterator["MemoryStore"]:
        """One transaction; an exception inside it leaves everything as it was."""
        with self._lock:
            before = dict(self._streams), dict(self._acts), dict(self._queue)
            try:
                yield self
            except BaseException:
                self._streams, self._acts, self._queue = before
                raise

    def head(self, stream: str) -> Head:
        """The last entry of a stream."""
        entries = self._streams.get(stream)
        return Head(stream, entries[-1].seq, entries[-1].hash) if entries else Head(stream)

    def heads_of(self, streams: Sequence[str]) -> dict[str, Head]:
        """The last entry of each of these streams."""
        return {stream: self.head(stream) for stream in streams}

    def heads(self, prefix: str = "") -> Sequence[Head]:
        """The heads of all streams whose name begins so, by name."""
        return [self.head(stream) for stream in sorted(self._streams) if stream.startswith(prefix)]

    def read(self, stream: str) -> Sequence[Entry]:
        """All entries of a stream, in order."""
        return tuple(self._streams.get(stream, ()))

    def read_all(self, prefix: str = "") -> Iterable[Entry]:
        """All entries of the streams whose name begins so."""
        return [entry for head in self.heads(prefix) for entry in self._streams[head.stream]]

    def of_act(self, key: str) -> Sequence[Entry]:
        """The entries of an act."""
        return tuple(self._streams[one.stream][one.seq - 1] for one in self._acts.get(key, ()))

    def queued(self) -> Sequence[Queued]:
        """The messages that wait, oldest first."""
        return [Queued(number, message) for number, message in sorted(self._queue.items())]

    def write(self, entries: Sequence[Entry], heads: Sequence[Head]) -> None:
        """Store entries; the heads follow from them."""
        for entry in entries:
            self._streams[entry.stream] = [*self._streams.get(entry.stream, ()), entry]
            self._acts[entry.act] = [*self._acts.get(entry.act, ()), entry]

    def drop_bodies(self, stream: str, seqs: Sequence[int]) -> None:
        """Erase bodies and their salts."""
        gone = set(seqs)
        self._streams[stream] = [
            replace(one, salt=None, body=None) if one.seq in gone else one for one in self._streams[stream]
        ]

    def scrub(self) -> None:
        """Nothing is left anywhere."""

    def queue(self, messages: Sequence[Message]) -> None:
        """Put messages at the end of the queue."""
        for message in messages:
            self._numbers += 1
            self._queue[self._numbers] = message

    def sent(self, number: int) -> bool:
        """Take a message out of the queue; False where somebody else has."""
        return self._queue.pop(number, None) is not None
