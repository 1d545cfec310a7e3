"""What tests of the engine and of the screens share."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache
from typing import Any

import pytest
from tests.unit import shipped

from lapwise.engine.diagnosis import session
from lapwise.engine.inference import PlainRules, RuleEngine
from lapwise.engine.knowledge import files, overlay
from lapwise.engine.knowledge.model import Knowledge

Read = tuple[dict[overlay.Key, overlay.Entry], list[overlay.Issue], list[tuple[str, bytes]]]
_read = overlay._read


@cache
def _shipped(found: tuple[files.File, ...]) -> Read:
    return _read(found)


@pytest.fixture
def shipped_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The shipped files are read once for all tests that lay own ones over them; own files are read as ever."""

    def read(found: Iterable[files.File]) -> Read:
        all_of_them = tuple(found)
        if all_of_them != files.shipped_files():
            return _read(all_of_them)
        entries, problems, seen = _shipped(all_of_them)
        return dict(entries), [*problems], [*seen]

    monkeypatch.setattr(overlay, "_read", read)


@cache
def _engine() -> RuleEngine:
    return RuleEngine(shipped.knowledge())


@cache
def _plain() -> PlainRules:
    return PlainRules(shipped.knowledge())


@pytest.fixture(autouse=True)
def one_rule_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    """All sessions on the shipped knowledge share one rule engine, as threads may: experta never frees one."""

    def shared(own: Callable[[Knowledge], Any], one: Callable[[], Any]) -> Callable[[Knowledge], Any]:
        return lambda knowledge: one() if knowledge.digest == shipped.knowledge().digest else own(knowledge)

    monkeypatch.setattr(session, "RuleEngine", shared(RuleEngine, _engine))
    monkeypatch.setattr(session, "PlainRules", shared(PlainRules, _plain))
