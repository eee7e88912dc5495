"""The driver underneath Django, with somebody in between: what the store really asks of a database is seen, or fails, there."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeAlias

from django.db import connections

Asked: TypeAlias = tuple[Any, ...]
"""The name of a call, and what it was given."""
Between: TypeAlias = Callable[[Callable[[], object], Asked], object]
"""Gets each call, to make it or not, and what is asked by it."""

_CALLS = ("execute", "executemany", "commit")


class _Watched:
    """A driver's connection, or a cursor of it."""

    def __init__(self, real: Any, between: Between) -> None:
        self.__dict__.update(_real=real, _between=between)

    def __getattr__(self, name: str) -> Any:
        found, between = getattr(self._real, name), self._between
        if name == "cursor":
            return lambda *given, **named: _Watched(found(*given, **named), between)
        if name in _CALLS:
            return lambda *given: between(lambda: found(*given), (name, *given))
        return found

    def __setattr__(self, name: str, value: object) -> None:
        setattr(self._real, name, value)


@contextmanager
def between_driver_and_django(alias: str, between: Between) -> Iterator[None]:
    """Every statement and every commit of this database's driver goes through `between`, also once it has connected anew.

    Django's own watchers would not do: a statement for which there are none goes another way.
    """
    connection: Any = connections[alias]
    connect = connection.connect

    def connect_watched() -> None:
        connect()
        connection.connection = _Watched(connection.connection, between)

    connection.ensure_connection()
    connection.connection = _Watched(connection.connection, between)
    connection.connect = connect_watched
    try:
        yield
    finally:
        del connection.connect
        if connection.connection is not None:
            connection.connection = connection.connection._real
