"""What the record says of stones, read for their screen. Slow: not on the screen's thread."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.learning import card as cards
from lapwise.engine.learning.learner import members
from lapwise.engine.learning.model import WhatWorks
from lapwise.engine.learning.works import what_works
from lapwise.engine.record.model import CaseRecord, OwnLap
from lapwise.engine.record.store import Record

CASES_SHOWN = 200
"""Newest cases that the record's screen lists."""


@dataclass(frozen=True, slots=True)
class Shop:
    """What the record says of a material on all laps, or on one. ``logged``: material to number of cases. ``laps``:
    own laps, those taken off the list too."""

    works: WhatWorks
    card_text: str
    card_markdown: str
    cases: tuple[CaseRecord, ...]
    logged: Mapping[str, int]
    laps: tuple[OwnLap, ...]


def shop_of(record: Record, knowledge: Knowledge, material: str | None, own_lap: str | None = None) -> Shop:
    """What the record says of a material (None: of all) on an own lap (None: on all); the card is of the stone."""
    logged = Counter(kept.case.material for kept in record.cases(limit=500) if kept.case.material)
    card = cards.card(record, knowledge, material) if material is not None else None
    group = members(knowledge, material) if material is not None else None
    return Shop(
        works=what_works(record, knowledge, material, own_lap),
        card_text=cards.text(card) if card else "",
        card_markdown=cards.markdown(card) if card else "",
        cases=tuple(record.cases(group, limit=CASES_SHOWN, own_lap=own_lap)),
        logged=dict(logged.most_common()),
        laps=tuple(record.laps(removed=True)),
    )
