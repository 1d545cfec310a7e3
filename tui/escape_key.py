"""Escape is a key of its own, whatever a terminal sends after it in the same read.

A terminal sends Escape as the character that every special key begins with. Read together with the next key, on a busy
machine or from far away, Textual takes both for alt with a letter, or for what a Macintosh keyboard writes with option
held (Escape and 4: ``¢``), and the Escape is lost. No key of ours is held with alt.
"""

from __future__ import annotations

from collections.abc import Iterator

from textual._ansi_sequences import ANSI_SEQUENCES_KEYS
from textual._xterm_parser import XTermParser
from textual.events import Key

ESCAPE = "\x1b"
OPENS_A_KEY = "[O"
"""What after Escape begins a special key, such as an arrow."""

_keys_of = XTermParser._sequence_to_key_events


def _apart(parser: XTermParser, sequence: str, alt: bool = False) -> Iterator[Key]:
    if len(sequence) == 2 and sequence[0] == ESCAPE and sequence[1].isprintable() and sequence[1] not in OPENS_A_KEY:
        # by a word to and fro in a text: some terminals send these so
        moves = isinstance(ANSI_SEQUENCES_KEYS.get(sequence), tuple)
        alt, sequence = not moves, sequence if moves else sequence[1]
    if alt:
        yield Key("escape", ESCAPE)
    yield from _keys_of(parser, sequence)


def keep_escape_apart() -> None:
    """From now on Escape and what follows it are two keys, in all screens of this process."""
    XTermParser._sequence_to_key_events = _apart  # type: ignore[method-assign,assignment]
