"""What tests of the engine and of the screens share."""

from __future__ import annotations

import gc
from collections.abc import Callable
from functools import cache, lru_cache
from typing import Any

from tests.unit import shipped

from lapwise.engine.diagnosis import session
from lapwise.engine.inference import PlainRules, RuleEngine
from lapwise.engine.knowledge import cache as knowledge_cache
from lapwise.engine.knowledge import overlay
from lapwise.engine.knowledge.model import Knowledge

gc.disable()


def pytest_collection_finish() -> None:
    """What was collected stays to the end: looking through it for rubbish, again and again, doubles the time."""
    gc.freeze()
    gc.enable()


overlay.entries_of = lru_cache(512)(overlay.entries_of)
"""What stands in a file is read once for all tests of a process, by its name and content."""
knowledge_cache._made = lru_cache(16)(knowledge_cache._made)
"""And what was kept of it is made of its bytes once."""


@cache
def _engine() -> RuleEngine:
    return RuleEngine(shipped.knowledge())


@cache
def _plain() -> PlainRules:
    return PlainRules(shipped.knowledge())


def _shared(own: Callable[[Knowledge], Any], one: Callable[[], Any]) -> Callable[[Knowledge], Any]:
    return lambda knowledge: one() if knowledge.digest == shipped.knowledge().digest else own(knowledge)


session.RuleEngine = _shared(RuleEngine, _engine)  # type: ignore[misc, assignment]
session.PlainRules = _shared(PlainRules, _plain)  # type: ignore[misc, assignment]
"""All sessions on the shipped knowledge share one rule engine, as threads may: experta never frees one."""
