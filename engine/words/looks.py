"""What a look showed, told in words that name the look and, in the same breath, what was seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from lapwise.engine.words.text import STRONG, Token, stems

_NOT = frozenset(("not",))
_LINES = stems("line lines mark marks scratch scratches tracks stripes rows hairs dashes")
_OFF = stems(
    "off gone rub rubs rubbed rubbing wear wears worn wipe wipes cleaned clean lost "
    "touch touches bear bears left stay stays keep keeps contact removed"
)
_TOOLS = stems(
    "lap wheel disc plate tin copper zinc ceramic acrylic film slurry paste compound charge powder tray hands machine"
)
_ROWS: tuple[tuple[str, frozenset[str], tuple[tuple[str, tuple[frozenset[str], ...]], ...], frozenset[str]], ...] = (
    (
        "ink-facet",
        stems("ink inked inking marker sharpie pen"),
        (
            ("one-end", (_OFF, stems("end tip culet girdle"))),
            ("one-side", (_OFF, stems("left right side half flank wedge"))),
            ("centre", (_OFF, stems("middle centre center"))),
            ("edges", (_OFF, stems("edge edges rim border corners"))),
            ("even", (stems("all everywhere even evenly uniform uniformly lot whole flat"),)),
        ),
        frozenset(),
    ),
    (
        "soak-and-wipe",
        stems(
            "soak soaked soaking wipe wiped wiping rinse alcohol acetone vinegar spirit "
            "spirits soap soapy wash washed washing scrub detergent"
        ),
        (
            (
                "less",
                (
                    stems("most half lighter lessened diminished partly some bit less fainter softens thinner better"),
                    stems("off gone away lessened diminished less lighter better softens come came fainter"),
                ),
            ),
            ("same", (_NOT | stems("still same unchanged stays withstand"),)),
            ("gone", (stems("off gone away lifts lift moves removes removed vanished clear cleared went"),)),
        ),
        _TOOLS,
    ),
    (
        "drop-test",
        stems("drop"),
        (
            (
                "clouded",
                (
                    stems("spot bit corner foot edge patch waste"),
                    stems("white cloudy clouded dull dulled milky hazy"),
                ),
            ),
            ("unchanged", (stems("spot bit waste patch"), _NOT | stems("unchanged nothing"))),
        ),
        frozenset(),
    ),
    (
        "cross-stroke",
        stems("across cross crossed stroke stroked swung turned turn swing ninety quarter"),
        (
            ("stays", (_LINES | stems("they"), _NOT, stems("turn turned swing swung move moved change changed"))),
            ("stays", (_LINES | stems("they"), stems("stay stayed remain put unchanged stays"))),
            ("turns", (_LINES, stems("turn turned swung new swing follow"), stems("too new round with"))),
        ),
        frozenset(),
    ),
    (
        "find-cleavage",
        stems("cleavage split splits plane basal"),
        (
            (
                "near",
                (
                    stems("degree degrees deg close near within sat"),
                    stems("found located measured checked check test says facet table lap we"),
                ),
            ),
        ),
        frozenset(),
    ),
    (
        "loupe-check",
        stems("loupe lens magnifier 10x magnification microscope 10"),
        (
            (
                "clean",
                (
                    _NOT | stems("nothing clean zip"),
                    stems("show shows showed showing see find finds found say says clean") | _LINES,
                ),
            ),
            ("dotted", (stems("dotted dots dashes dashed"),)),
            ("crooked", (stems("crooked wiggly bent squiggly scribbly crisscross"),)),
            ("pits", (stems("holes pits craters"),)),
            ("continuous", (stems("unbroken solid continuous"),)),
        ),
        frozenset(),
    ),
    (
        "check-alignment",
        stems("mirrored settings alignment opposite both"),
        (
            ("wave", (stems("wave senses directions opposite"), stems("off wave lying miss senses"))),
            ("one-side", (stems("off"), stems("same"), stems("side way"))),
            ("one-end", (stems("off"), stems("same"), stems("end"))),
        ),
        frozenset(),
    ),
    (
        "check-lap-true",
        stems("lap plate disc wheel"),
        (
            ("wobbles", (stems("dial wobbles wobble runout gauge"), stems("wobbles wobble up runout out"))),
            ("hollow", (stems("ruler straight edge straightedge"), stems("dished hollow domed dip"))),
            ("true", (stems("dial gauge straightedge measures checked"), stems("true flat"))),
        ),
        frozenset(),
    ),
    (
        "test-other-stone",
        stems("stone one garnet quartz topaz sapphire tourmaline spinel beryl stones"),
        (
            (
                "good",
                (
                    stems("other another different second test old known"),
                    stems("fine ok okay well good normal normally nicely nice shone lovely perfect mirror"),
                ),
            ),
            ("same", (stems("another different second test"), stems("same too"))),
        ),
        stems("facet facets side end lap wheel zone ring plate day"),
    ),
)
"""Look, the words that name it, its results with the groups of words of which each must have one, and words beside
which it is not told."""


_WITHOUT = frozenset(("without", "can't", "cannot", "couldn't", "cant", "invisible"))
_NEAR, _CLOSE = 9, 3
"""Words between those that tell one result together."""


KNOWN = frozenset(look for look, *_ in _ROWS)


@dataclass(frozen=True, slots=True)
class Seen:
    """``start`` and ``end``: the words of it in the text."""

    look: str
    result: str
    start: int
    end: int


def seen(raw: Sequence[Token], taken: Iterable[tuple[int, int]]) -> Iterator[Seen]:
    """What looks showed. ``taken``: first and last letter of what tells something else."""
    spent = list(taken)
    before: list[Token] = []
    for here in _sentences(raw):
        free = [t for t in here if not any(start <= t.start < end for start, end in spent)]
        for look, cues, results, never in _ROWS:
            named = [t for n, t in enumerate(free) if t.key in cues and not _spared(free[max(0, n - 2) : n])]
            named += [t for t in before if t.key in cues and look == "ink-facet"] if not named else []
            if not named or any(t.key in never for t in here):
                continue
            for result, groups in results:
                found = _together(free, groups, named, _CLOSE if result == "clean" else _NEAR)
                if found:
                    at = [*named[:1], *found]
                    yield Seen(look, result, min(t.start for t in at), max(t.end for t in at))
                    break
        before = free


def _spared(before: Iterable[Token]) -> bool:
    """Whether the look is told not to have been needed: without a loupe."""
    return any(t.key == "not" or t.word in _WITHOUT for t in before)


def _together(
    free: Sequence[Token], groups: Sequence[frozenset[str]], named: Sequence[Token], reach: int
) -> list[Token]:
    """A word of each group, all within ``reach`` words of that of the first; empty if there are none."""
    for at, first in enumerate(free):
        if first.key not in groups[0] or first in named or first.word in _WITHOUT:
            continue
        near = free[max(0, at - reach) : at + reach + 1]
        around = [t for t in near if t not in named and t is not first and t.word not in _WITHOUT]
        found = [next((t for t in around if t.key in group), None) for group in groups[1:]]
        if all(found):
            return [first, *(t for t in found if t is not None)]
    return []


def _sentences(raw: Sequence[Token]) -> Iterator[list[Token]]:
    out: list[Token] = []
    for token in raw:
        if token.gap == STRONG and out:
            yield out
            out = []
        out.append(token)
    if out:
        yield out
