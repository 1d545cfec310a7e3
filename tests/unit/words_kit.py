"""What tests of own words share: a text read with the shipped words, and what holds for every reading."""

from __future__ import annotations

from lapwise.engine.facts import check_case
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.hear import hear
from lapwise.engine.words.heard import Hearing
from lapwise.engine.words.lexicon import Lexicon


def read(text: str, knowledge: Knowledge, lex: Lexicon) -> Hearing:
    """The text as heard: a sound case, and every part where it says it is."""
    hearing = hear(text, knowledge, lex)
    check_case(hearing.case.without_cures(), knowledge)
    for part in hearing.heard:
        assert text[part.start : part.end] == part.words
    return hearing
