"""Which remedies stand for this case, with the chance of each to fix each cause."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Conclusions, Provenance, Veto
from lapwise.engine.diagnosis.model import LeftOut
from lapwise.engine.knowledge.model import Knowledge, Remedy, Target
from lapwise.engine.pairs import Choice, candidates, stands_so
from lapwise.engine.wording import capital, small

STOP_CAUTION = "breathing"
"""The caution that stands before all others where advice stops."""
MEANT = 0.5
"""A remedy is meant for the causes that it cures at least this often for each time it cures the one it is best against.
What it helps against beside those is no reason for it: a bevel helps against a heavy hand at times."""
GRAIN = ("finer", "coarser")
"""Relations of a target to what is on the machine that a forbidden remedy forbids to others too."""
UNPUBLISHED_ODDS = 0.5
"""Odds of a change of lap or compound to a pair nobody published for this material, against a published one:
judgement, no source."""


@dataclass(frozen=True, slots=True)
class Option:
    """A remedy that may be tried: ``fix`` is cause to chance, after rules, target and record had their say."""

    remedy: Remedy
    fix: Mapping[str, float]
    to: Choice | None
    favours: tuple[tuple[float, Provenance], ...]


class Targets:
    """Where each remedy that changes lap or compound goes to, kept for as long as the machine stays as it is.

    ``own``: lap types the person owns, to the compounds they carry (see :func:`lapwise.engine.pairs.owns`).
    """

    def __init__(self, knowledge: Knowledge, own: Mapping[str, Collection[str]] | None = None) -> None:
        self._knowledge = knowledge
        self._own = dict(own or {})
        self._kept: dict[tuple[str | None, ...], Choice | None] = {}

    def best(self, remedy: Remedy, case: Case, barred: frozenset[str] = frozenset()) -> Choice | None:
        """The best pair for ``remedy``, None if it goes nowhere. ``barred``: remedies that would do harm; a pair that
        one of them would go to (a coarser grain of the same kind) is none for another either.

        A remedy free to go anywhere takes a pair that no other remedy goes to, on another lap, if there is one: two
        names for nearly the same change would be one try too many.
        """
        key = (remedy.id, case.material, case.lap, case.compound, case.prior, case.stage, *sorted(barred))
        if key not in self._kept:
            found = [] if _nothing_to_compare(remedy, case, self._knowledge) else self._all(remedy, case)
            bars = [to for r in barred if (to := self._knowledge.remedies[r].to) and to.relation in GRAIN]
            found = [c for c in found if not any(stands_so(to, case, c, self._knowledge) for to in bars)]
            if remedy.to is not None and _goes_anywhere(remedy.to):
                taken = self._taken(case)
                found.sort(key=lambda c: ((c.lap, c.compound) in taken, not c.own, c.lap == case.lap))
            self._kept[key] = found[0] if found else None
        return self._kept[key]

    def _all(self, remedy: Remedy, case: Case) -> list[Choice]:
        if remedy.to is None:
            return []
        return candidates(remedy.to, case, self._knowledge, self._own, stage=_target_stage(case, remedy))

    def _taken(self, case: Case) -> set[tuple[str | None, str | None]]:
        """Pairs that the remedies bound to one kind of change go to."""
        bound = [r for r in self._knowledge.remedies.values() if r.to is not None and not _goes_anywhere(r.to)]
        chosen = [self.best(remedy, case) for remedy in bound if remedy.to and remedy.to.relation != "between"]
        return {(c.lap, c.compound) for c in chosen if c is not None}


def _goes_anywhere(target: Target) -> bool:
    free = not (target.laps or target.lap_traits or target.compounds or target.kinds)
    return free and target.keep == "nothing" and target.relation in ("", "other")


def shifted(chance: float, log_odds: float) -> float:
    """The chance after its odds are multiplied by exp(log_odds); 0 and 1 stay."""
    if chance <= 0.0 or chance >= 1.0:
        return chance
    odds = chance / (1.0 - chance) * math.exp(log_odds)
    return odds / (1.0 + odds)


def _spent(case: Case) -> dict[str, str]:
    """Remedies taken out by their last outcome in this case (``better`` leaves one in)."""
    last = dict(case.tried[case.settled :])
    return {remedy: outcome for remedy, outcome in last.items() if outcome in ("no-change", "worse")}


HELPED = "It helped before: do it again as long as it helps."
"""Why a remedy that helped stands in front."""


def helped(case: Case, knowledge: Knowledge) -> tuple[str, ...]:
    """Remedies that made it better and may do so again, the latest first.

    Left out are those that may well do harm if pushed further.
    """
    last = dict(case.tried[case.settled :])
    better = [knowledge.remedies[r] for r, outcome in last.items() if outcome == "better"]
    safe = [r for r in better if r.worse_chance in ("never", "rarely")]
    return tuple(r.id for r in reversed(safe))


def options(
    case: Case,
    knowledge: Knowledge,
    conclusions: Conclusions,
    *,
    targets: Targets,
    learned: Callable[[str, str], float | None] | None = None,
) -> tuple[tuple[Option, ...], tuple[LeftOut, ...]]:
    """All remedies split into those that stand and those that do not, each in the order of the knowledge base.

    ``targets``: where changes of lap and compound go to. ``learned(remedy, cause)``: the chance with the person's
    record taken in, or None where it says nothing.
    """
    barred: dict[str, Veto] = {}
    for veto in sorted(conclusions.vetoes, key=lambda v: not v.harm):
        barred.setdefault(veto.remedy, veto)
    harmful = frozenset(name for name, veto in barred.items() if veto.harm)
    spent = _spent(case)
    better = set(helped(case, knowledge))
    standing: list[Option] = []
    excluded: list[LeftOut] = []
    for remedy in knowledge.remedies.values():
        if remedy.id in barred:
            veto = barred[remedy.id]
            kind = "veto" if veto.harm else "not-applicable"
            fix: Mapping[str, float] = {}
            if veto.harm:
                fix = fix_chances(remedy, case, targets.best(remedy, case), knowledge, conclusions, learned)
            excluded.append(LeftOut(remedy.id, kind, veto.said.because, veto.said.rule, fix))
            continue
        if remedy.id in spent:
            words = "made it worse" if spent[remedy.id] == "worse" else "brought no change"
            excluded.append(LeftOut(remedy.id, "tried", f"It was tried and {words}."))
            continue
        if remedy.opposite in better:
            contrary = small(knowledge.remedies[remedy.opposite].label)
            excluded.append(LeftOut(remedy.id, "tried", f"The contrary helped: {contrary}."))
            continue
        to = targets.best(remedy, case, harmful)
        if to is None and remedy.to is not None and not _nothing_to_compare(remedy, case, knowledge):
            because = "No lap and compound is known that this could change to."
            excluded.append(LeftOut(remedy.id, "no-pair", because))
            continue
        favours = tuple((f.log_likelihood_ratio, f.said) for f in conclusions.favours if f.remedy == remedy.id)
        fix = fix_chances(remedy, case, to, knowledge, conclusions, learned)
        standing.append(Option(remedy, fix, to, favours))
    return tuple(standing), tuple(excluded)


def fix_chances(
    remedy: Remedy,
    case: Case,
    to: Choice | None,
    knowledge: Knowledge,
    conclusions: Conclusions,
    learned: Callable[[str, str], float | None] | None = None,
) -> dict[str, float]:
    """P(this remedy fixes it | cause) for every cause still standing that it can fix.

    The one place for it: the plan, what a try says afterwards, and what is logged all ask here. ``to``: the pair that
    the remedy changes to (:meth:`Targets.best`), None if it changes none.
    """
    ruled_out = {r.cause for r in conclusions.ruled_out}
    log_odds = sum(f.log_likelihood_ratio for f in conclusions.favours if f.remedy == remedy.id)
    if to is not None and case.material and not to.known:
        log_odds += math.log(UNPUBLISHED_ODDS)
    fix: dict[str, float] = {}
    for cause, word in remedy.fixes.items():
        if cause in ruled_out:
            continue
        base = knowledge.scales.chance[word]
        if learned is not None and (together := learned(remedy.id, cause)) is not None:
            base = together
        fix[cause] = shifted(base, log_odds)
    return fix


def _nothing_to_compare(remedy: Remedy, case: Case, knowledge: Knowledge) -> bool:
    """Whether the kind of change is all that can be said, because the stone or what is on the machine is not known."""
    if remedy.to is None:
        return False
    if remedy.to.relation in ("softer", "harder"):
        return case.lap is None
    if remedy.to.relation == "between" or _goes_anywhere(remedy.to):
        return case.material is None
    now = knowledge.compounds.get(case.compound or "")
    unknown = now is None or (now.kind == "diamond" and now.typical_um is None)
    return remedy.to.relation in ("finer", "coarser") and unknown


def _target_stage(case: Case, remedy: Remedy) -> str:
    """A step put in between goes to a pre-polish pair, any other change to one for the stage at hand."""
    if remedy.to is not None and remedy.to.relation == "between":
        return "prepolish"
    return case.stage


def reasons_for(
    option: Option, shares: Sequence[tuple[str, float]], why: Mapping[str, Provenance], labels: Mapping[str, str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(sentences, sources) for a plan step: what a rule has for it here, then the causes that make up its chance.

    ``shares``: cause and P(cause) times P(fix | cause) of this option, largest first. ``why``: the strongest
    reason for each cause; one that no rule gave for this case says only what the cause is, and what the remedy does
    about it is added once.
    """
    sentences: list[str] = []
    sources: list[str] = []
    for log_likelihood_ratio, favour in sorted(option.favours, key=lambda f: (-f[0], f[1].rule)):
        if log_likelihood_ratio > 0:
            sentences.append(favour.because)
            sources.append(favour.source)
    told = False
    total, best = sum(share for _, share in shares) or 1.0, max(option.fix.values(), default=0.0)
    for at, (cause, share) in enumerate(shares[:3]):
        if at and share / total < 0.15:
            break
        said = why.get(cause)
        label = labels[cause]
        if option.fix[cause] < MEANT * best:
            if not sentences:
                sentences.append(f"{option.remedy.about} It sometimes cures this as well: {small(label)}.")
                sources.append(option.remedy.source)
            continue
        text = f"It helps against: {label}." if said is None else f"{capital(label)}: {said.because}"
        if (said is None or not said.rule) and not told:
            text, told = f"{text} {option.remedy.about}", True
            sources.append(option.remedy.source)
        sentences.append(text)
        if said is not None:
            sources.append(said.source)
    if option.to is not None and option.to.because:
        sentences.append(option.to.because)
        sources.append(option.to.source)
    return tuple(dict.fromkeys(sentences)), tuple(dict.fromkeys(sources))
