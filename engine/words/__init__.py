"""A case told in a person's own words: what was heard, what is doubtful, what was not understood."""

from lapwise.engine.words.hear import Doubt, Heard, Hearing, hear
from lapwise.engine.words.kept import kept_lexicon

__all__ = ["Doubt", "Heard", "Hearing", "hear", "kept_lexicon"]
