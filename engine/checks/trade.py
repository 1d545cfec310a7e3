"""The ids of the trade that cases, records and other benches rely on, from knowledge/trade.yaml."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from lapwise.engine.errors import Damaged, Issue
from lapwise.engine.knowledge.fields import Findings, Value
from lapwise.engine.knowledge.reader import read

RESULTS = "results"
Ids = Mapping[str, tuple[str, ...]]


@cache
def relied_on() -> tuple[Ids, Ids]:
    """(list of the knowledge to the ids that must be in it, look to the results it must be able to tell).

    Raises :class:`Damaged` if the file cannot be used.
    """
    name = "knowledge/trade.yaml"
    document = read(files("lapwise.knowledge").joinpath("trade.yaml").read_bytes(), name)
    out = Findings(problems=list(document.problems))
    lists: dict[str, tuple[str, ...]] = {}
    results: Ids = {}
    if document.root is not None and (trade := Value(document.root, name, "", out).fields().need("trade")):
        for key, value in trade.fields().each():
            if key == RESULTS:
                results = value.mapping(Value.texts)
            else:
                lists[key] = value.texts()
    if out.problems or not lists:
        raise Damaged(out.problems or Issue("there is no list of ids in this file", name))
    return lists, results
