"""A store on which things go wrong when they are told to, and between whose transactions others get in."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from enum import StrEnum

from hourmark.ledger import Entry, Head, MemoryStore, NotStored, Queued, Writer


class Fault(StrEnum):
    """What goes wrong with one transaction."""

    BEGIN = "it cannot begin"
    COMMIT = "it is not committed"
    PASSING = "it cannot begin, and a moment later it can"
    LOST = "it is committed, and whoever asked is gone before they hear of it"


class Gone(Exception):
    """Whoever asked is gone: a worker that died, a phone out of reach. What was committed stands."""


class FaultyStore:
    """A record in memory in front of which a fault may stand.

    `faults` are those of the next transactions, one each; while `down` nothing can be read or written. `between` is done one time,
    just before the next transaction begins.
    """

    def __init__(self, inner: MemoryStore) -> None:
        self.inner, self.down = inner, False
        self.faults: list[Fault] = []
        self.between: Callable[[], object] | None = None

    @property
    def clinic(self) -> str:
        return self.inner.clinic

    @contextmanager
    def writing(self) -> Iterator[Writer]:
        self._up()
        if (slips_in := self.between) is not None:
            self.between = None
            slips_in()
        fault = self.faults.pop(0) if self.faults else None
        if fault in (Fault.BEGIN, Fault.PASSING):
            raise NotStored("The disk is busy.", passing=fault is Fault.PASSING)
        with self.inner.writing() as record:
            yield record
            if fault is Fault.COMMIT:
                raise NotStored("The disk is full.", passing=False)
        if fault is Fault.LOST:
            raise Gone

    def head(self, stream: str) -> Head:
        self._up()
        return self.inner.head(stream)

    def heads_of(self, streams: Sequence[str]) -> dict[str, Head]:
        self._up()
        return self.inner.heads_of(streams)

    def heads(self, prefix: str = "") -> Sequence[Head]:
        self._up()
        return self.inner.heads(prefix)

    def read(self, stream: str) -> Sequence[Entry]:
        self._up()
        return self.inner.read(stream)

    def read_all(self, prefix: str = "") -> Iterable[Entry]:
        self._up()
        return self.inner.read_all(prefix)

    def of_act(self, key: str) -> Sequence[Entry]:
        self._up()
        return self.inner.of_act(key)

    def queued(self) -> Sequence[Queued]:
        self._up()
        return self.inner.queued()

    def scrub(self) -> None:
        self._up()

    def _up(self) -> None:
        if self.down:
            raise NotStored("The store is out of reach.", passing=True)
