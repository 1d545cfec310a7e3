"""Keeps the words as they are looked for, so that the next start need not cut and stem them all again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lapwise.engine.knowledge import cache, files
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.words.lexicon import Lexicon, Name, Told, lexicon
from lapwise.engine.words.text import Lists

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
        "looks": {
            look: [sorted(told.named), sorted(told.never), [[r, [*map(sorted, groups)]] for r, groups in told.results]]
            for look, told in lex.looks.items()
        },
        "lists": {name: sorted(words) for name, words in lex.lists.sets.items()},
        "means": lex.lists.means,
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
        looks={
            look: Told(
                frozenset(named), frozenset(never), tuple((r, tuple(map(frozenset, groups))) for r, groups in results)
            )
            for look, (named, never, results) in data["looks"].items()
        },
        lists=Lists({name: frozenset(words) for name, words in data["lists"].items()}, data["means"]),
    )
    lex.index()
    return lex
