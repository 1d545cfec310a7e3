"""What a list of things to try need not hold: what an earlier one does too, and what hardly ever cures it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

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
SELDOM = 0.02
"""What is less likely than this to be a cutter's first move is left out whatever its chance. Of 5,000 panel situations:
of what stood third or later experts named a half among their own moves where this was 0.08 and more, one in six from
0.02 to 0.03, one in twenty below, whatever the chance now. Without it 60 % of a list were experts' moves (48 % with
it), and of their moves as many were in it (70 and 71 %)."""
LIKELY, CURES = 0.3, 0.3
"""A cause this likely has a remedy in the list that cures it this often, if there is one: whoever reads what may be
wrong looks for it."""
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


@dataclass(frozen=True, slots=True)
class Chances:
    """How likely each remedy is to cure if tried ``now``, and to be a cutter's first move (``usual``)."""

    now: Mapping[str, float]
    usual: Mapping[str, float]
    first: str
    """The likeliest first move, which is never a filler."""

    def idle(self, name: str) -> bool:
        """Whether a remedy is a filler; a look is none."""
        return name in self.now and name != self.first and is_filler(self.now[name], self.usual.get(name, 0.0))


def is_filler(now: float, usual: float) -> bool:
    """Whether a remedy of this chance now, this likely to be a first move, is one."""
    little = (now < LEAST_NOW and usual < LEAST_USUAL) or (now < HARDLY and usual < HARDLY_USUAL)
    return little or usual < SELDOM


def held(
    worth: Sequence[str],
    keep: Collection[str],
    front: Collection[str],
    options: Mapping[str, Option],
    p: Mapping[str, float],
    chances: Chances,
    knowledge: Knowledge,
) -> tuple[list[str], dict[str, str]]:
    """What the list holds of the remedies ``worth`` a try, and what it leaves out since an earlier one does it too,
    each to that one. ``keep``: what stays though it is a filler; ``front``: what cutters begin with; ``p``: P(cause).
    A likely cause has a remedy that is meant for it, a filler or not.

    The first stays first; behind it stands what cutters begin with, then the rest, of each first what has the best
    chance for its minutes and beside it what is done in one go with it. What ends the work stands last.
    """
    some = [name for name in worth if name in keep or not chances.idle(name)]
    if len(some) < LEAST_LISTED:
        others = sorted(worth, key=lambda name: -chances.usual.get(name, 0.0))
        some = [*some, *(name for name in others if name not in some)][:LEAST_LISTED]
    remedies, extra = knowledge.remedies, knowledge.scales.look_minutes
    for cause in (c for c, chance in p.items() if chance >= LIKELY and c in knowledge.causes):
        cures = {n: o.fix.get(cause, 0.0) for n, o in options.items() if not remedies[n].ends}
        best = max(cures, key=lambda n: cures[n], default="")
        if best and cures[best] >= CURES > max((cures.get(n, 0.0) for n in some), default=0.0):
            some = [*some, best]

    def turn(name: str) -> float:
        return -chances.now.get(name, 0.0) / (remedies[name].minutes + extra)

    def with_it(name: str, others: Iterable[str]) -> list[str]:
        return [other for other in others if other in remedies[name].one_go or name in remedies[other].one_go]

    ahead = some[:1] + sorted((n for n in some[1:] if n in front), key=turn)
    rest = sorted((n for n in some[1:] if n not in front), key=lambda n: (not with_it(n, ahead), turn(n)))
    out: list[str] = []
    for group in (ahead, rest):
        for name in group:
            out += [n for n in (name, *with_it(name, group)) if n not in out]
    out = out[:1] + sorted(out[1:], key=lambda name: remedies[name].ends)
    part_of = repeats(out, options, knowledge)
    return [name for name in out if name not in part_of], part_of
