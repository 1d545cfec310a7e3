"""What a list of things to try need not hold: what an earlier one does too, and what hardly ever cures it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from lapwise.engine.case import Case
from lapwise.engine.diagnosis.options import Option
from lapwise.engine.knowledge.model import Knowledge, Look
from lapwise.engine.pairs import nearly_the_same

LEAST_NOW = 0.08
LEAST_USUAL = 0.08
"""A remedy with less chance now than the first, and less likely than the second to be a cutter's first move, is no more
than a filler. Without them lists were 0.8 shorter and held an accepted move among the first three as often (2,100
panel situations)."""
HARDLY, HARDLY_USUAL = 0.03, 0.12
"""The same for what hardly ever cures: it stays only where many would begin with it."""
LEAST_LISTED = 2
"""A list holds so many where it can, fillers or not: whoever tries the first wants to know what follows."""


def open_looks(case: Case, knowledge: Knowledge) -> Iterator[Look]:
    """Looks that may tell something new: not taken yet, and nobody has stated what they settle."""
    taken = {look for look, _ in case.saw}
    return (k for k in knowledge.looks.values() if k.id not in taken and k.settles not in case.facts)


def repeats(order: Iterable[str], options: Mapping[str, Option], knowledge: Knowledge) -> dict[str, str]:
    """Each remedy of ``order`` that an earlier one does too, to that one: the earlier one takes it in, or both change
    to nearly the same lap and compound."""
    before: list[str] = []
    found: dict[str, str] = {}
    for name in (name for name in order if name in options):
        if (first := next((b for b in before if _same(options[b], options[name], knowledge)), None)) is not None:
            found[name] = first
        else:
            before.append(name)
    return found


def _same(earlier: Option, later: Option, knowledge: Knowledge) -> bool:
    if later.remedy.id in earlier.remedy.takes_in:
        return True
    return earlier.to is not None and later.to is not None and nearly_the_same(earlier.to, later.to, knowledge)


def fillers(options: Mapping[str, Option], p: Mapping[str, float], usual: Mapping[str, float]) -> frozenset[str]:
    """Remedies with little chance now that few would begin with. ``p``: P(cause); ``usual``: how likely each is to be
    the first move."""
    now = {name: math.fsum(p.get(c, 0.0) * f for c, f in option.fix.items()) for name, option in options.items()}
    return frozenset(name for name, chance in now.items() if is_filler(chance, usual.get(name, 0.0)))


def is_filler(now: float, usual: float) -> bool:
    """Whether a remedy of this chance now, this likely to be a first move, is one."""
    return (now < LEAST_NOW and usual < LEAST_USUAL) or (now < HARDLY and usual < HARDLY_USUAL)


def held(
    worth: Sequence[str],
    idle: Collection[str],
    keep: Collection[str],
    options: Mapping[str, Option],
    knowledge: Knowledge,
) -> tuple[list[str], dict[str, str]]:
    """What the list holds of the remedies ``worth`` a try, in its order, and what it leaves out since an earlier one
    does it too, each to that one. ``idle``: fillers; ``keep``: what stays though it is one. What ends the work stands
    last."""
    some = [name for name in worth if name in keep or name not in idle]
    if len(some) < LEAST_LISTED:
        some = [*some, *(name for name in worth if name not in some)][:LEAST_LISTED]
    part_of = repeats(some, options, knowledge)
    names = [name for name in some if name not in part_of]
    return names[:1] + sorted(names[1:], key=lambda name: knowledge.remedies[name].ends), part_of
