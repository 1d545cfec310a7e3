"""The ids of the trade that cases, records and other benches rely on, from knowledge/trade.yaml."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from lapwise.engine.knowledge.alone import read_alone, shipped
from lapwise.engine.knowledge.fields import Value

RESULTS = "results"
Ids = Mapping[str, tuple[str, ...]]


@cache
def relied_on() -> tuple[Ids, Ids]:
    """(list of the knowledge to the ids that must be in it, look to the results it must be able to tell).

    Raises :class:`Damaged` if the file cannot be used.
    """
    return read_alone(*shipped("trade"), "trade", _read)


def _read(trade: Value) -> tuple[Ids, Ids]:
    entries = dict(trade.fields().each())
    results: Ids = entries.pop(RESULTS).mapping(Value.texts) if RESULTS in entries else {}
    return {key: value.texts() for key, value in entries.items()}, results
