"""What tests of the engine and of the screens share."""

from __future__ import annotations

import gc
from collections.abc import Callable, Generator
from functools import cache, lru_cache
from typing import Any

import pytest
from tests.unit import shipped

from lapwise.engine.diagnosis import session
from lapwise.engine.inference import PlainRules, RuleEngine
from lapwise.engine.knowledge import cache as knowledge_cache
from lapwise.engine.knowledge import overlay
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words import cues

LONGEST = (
    "test_serve_doors",
    "test_panel",
    "test_screens_browser",
    "test_screens_terminal",
    "test_cli_contract",
    "test_screens_areas",
    "test_inference_clips",
    "test_screens_pictures",
    "test_screens_outcomes",
    "test_knowledge_cli",
    "test_screens_bursts",
    "test_screens_reference",
    "test_record_salvage",
    "test_screens_knowledge_files",
    "test_screens_actions",
    "test_knowledge_layout",
    "test_words_stories",
    "test_record_faults",
    "test_screens_leaving",
    "test_screens_record",
    "test_knowledge_limits",
    "test_screens_case_log",
    "test_transfer_rotations",
    "test_screens_transfer",
    "test_screens_tell",
    "test_screens_touch",
    "test_screens_case",
    "test_diagnosis_properties",
    "test_screens_correction",
    "test_controller",
    "test_words",
    "test_record_exchange",
    "test_inference_run",
    "test_cases",
    "test_knowledge_loader",
)
"""Files that take longest: workers take whole files (what they share is made once), and these first."""
_PLACE = {name: place for place, name in enumerate(LONGEST)}

gc.disable()


@pytest.hookimpl(wrapper=True, optionalhook=True)
def pytest_xdist_auto_num_workers() -> Generator[None, int, int]:
    """One worker more than there are cores: some tests wait for a browser, a terminal or a server."""
    return (yield) + 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: _PLACE.get(item.path.stem, len(_PLACE)))


def pytest_collection_finish() -> None:
    """What was collected stays to the end: looking through it for rubbish, again and again, doubles the time."""
    gc.freeze()
    gc.enable()


overlay.entries_of = lru_cache(512)(overlay.entries_of)
"""What stands in a file is read once for all tests of a process, by its name and content."""
cues.read_cues = cache(cues.read_cues)
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
