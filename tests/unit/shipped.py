"""The shipped knowledge and one advice session on it, read once for all tests of a process that only ask."""

from __future__ import annotations

from functools import cache

from lapwise.engine.diagnosis import Session
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge


@cache
def knowledge() -> Knowledge:
    """The shipped knowledge."""
    return load().knowledge


@cache
def session() -> Session:
    """A session on it, without a record or a machine."""
    return Session(knowledge())
