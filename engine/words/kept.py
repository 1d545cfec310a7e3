"""Keeps the words as they are looked for, so that the next start need not cut and stem them all again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lapwise.engine.knowledge import cache, files
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.lexicon import Lexicon, Name, lexicon

NAME = "words.json"


def kept_lexicon(knowledge: Knowledge, folder: Path) -> Lexicon:
    """The lexicon of a knowledge base, from ``folder`` if it was kept there for this very base by this very code."""
    stamp = f"{knowledge.digest}-{files.stamp((), Path(__file__).parent)}"
    found = cache.got(folder, NAME, stamp, _built)
    if found is None:
        found = lexicon(knowledge)
        cache.put(folder, NAME, stamp, _plain(found))
    return found


def _plain(lex: Lexicon) -> dict[str, Any]:
    meant: dict[tuple[Name, ...], int] = {}

    def table(runs: Mapping[tuple[str, ...], tuple[Name, ...]]) -> dict[str, int]:
        return {" ".join(run): meant.setdefault(names, len(meant)) for run, names in runs.items()}

    return {
        "setup": table(lex.setup),
        "trouble": table(lex.trouble),
        "exact": table(lex.exact),
        "same": {" ".join(run): key for run, key in lex.same.items()},
        "words": sorted(lex.words),
        "cues": {cue: dict(weights) for cue, weights in lex.cues.items()},
        "meant": [list(names) for names in meant],
    }


def _built(data: Any) -> Lexicon:
    meant = [tuple((kind, id_) for kind, id_ in names) for names in data["meant"]]

    def table(runs: Mapping[str, int]) -> dict[tuple[str, ...], tuple[Name, ...]]:
        return {tuple(run.split(" ")): meant[at] for run, at in runs.items()}

    lex = Lexicon(
        setup=table(data["setup"]),
        trouble=table(data["trouble"]),
        exact=table(data["exact"]),
        same={tuple(run.split(" ")): key for run, key in data["same"].items()},
        words=frozenset(data["words"]),
        cues=data["cues"],
    )
    lex.index()
    return lex
