"""What the record says of an id of the knowledge, for `lapwise knowledge show`."""

from __future__ import annotations

from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.learning import works
from lapwise.engine.record.store import Record


def record_lines(name: str, knowledge: Knowledge, where: Folders) -> list[str]:
    """Sentences about a remedy, cause, material, lap or compound; empty without a record. Never creates one."""
    if not where.record.exists():
        return []
    with Record.open(where, readonly=True) as record:
        return works.record_lines(record, knowledge, name)
