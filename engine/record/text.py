"""Text that a person or a file brings in: what may not be kept is taken out."""

from __future__ import annotations

import re
import unicodedata

LONGEST_NOTE = 10_000
_FORBIDDEN = re.compile(
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ud800-\udfff]"
)
_ESCAPE = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b]*(?:\x07|\x1b\\)?|[PX^_][^\x1b]*(?:\x1b\\)?|.)?")
SLUG = re.compile(r"[a-z0-9][a-z0-9_-]{0,79}")


def clean_note(text: str, longest: int = LONGEST_NOTE) -> str:
    """The text without terminal escapes, control characters and direction overrides, cut to ``longest`` characters.

    Line ends become ``\\n``. Markup is kept as it is: it is shown as text, never interpreted.
    """
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    return _FORBIDDEN.sub("", _ESCAPE.sub("", text))[:longest].strip()


def is_slug(text: object) -> bool:
    """Whether it has the form of an id: lower-case letters, digits, hyphens and underscores, up to 80."""
    return isinstance(text, str) and SLUG.fullmatch(text) is not None
