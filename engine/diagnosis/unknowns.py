"""Which fact, not known yet, would help most: the minutes its answer saves on average by changing the order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from lapwise.engine.case import Case
from lapwise.engine.conclusions import Fact
from lapwise.engine.diagnosis.model import UnknownView
from lapwise.engine.diagnosis.prepared import Prepared
from lapwise.engine.facts import facts_of
from lapwise.engine.inference import PlainRules, RuleTest, WorkingMemory
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.slots import CONDITIONS, SLOTS, question

if TYPE_CHECKING:
    from lapwise.engine.strategy.arrays import Floats

PARTLY = ("partial-polish",)
"""Symptoms of a facet that is bright here and dull there: where it is dull is then worth asking for."""
SCRATCHED = (
    *("fine-scratches", "coarse-scratches", "scratches-with-travel", "scratches-cutting-direction"),
    *("scratches-return", "comet-tails", "torn-facet"),
)
"""Symptoms with lines on the facet: only then is it asked what they look like and where they are."""
MAPS: tuple[dict[str, str | float], ...] = (
    {"contact": "sloped", "contact_slope": "side-to-side"},
    {"contact": "sloped", "contact_slope": "tip-to-dop"},
    {"contact": "sloped", "contact_slope": "both"},
    {"contact": "patchy", "contact_centre": "centre"},
    {"contact": "patchy", "contact_centre": "edges"},
)
"""What the map of such a facet may tell."""
USUAL_PRIORS = ("diamond-600", "diamond-1200", "diamond-3000", "diamond-8000")
ONLY_WITH: Mapping[str, Mapping[str, tuple[str | None, ...]]] = {
    "in_setting": {"polished_before": ("yes",)},
    "extent": {"facet_part": (None, "crown", "pavilion", "girdle")},
}
"""Conditions asked only where another is one of these: what is set was polished before, and a stone has one table."""
LEAST_MINUTES = 0.25
"""A saving below this is not worth a question."""


def _answers(key: str, case: Case, knowledge: Knowledge) -> Iterator[tuple[Fact, ...]]:
    """The facts with each usual answer to ``key`` put in."""
    if key == "map":
        yield from (facts_of(case, knowledge, told) for told in MAPS)
    else:
        yield from (facts_of(answered, knowledge) for answered in _cases(key, case, knowledge))


def _cases(key: str, case: Case, knowledge: Knowledge) -> Iterator[Case]:
    if key == "material":
        families = [m.id for m in knowledge.materials.values() if m.rank == "family"]
        yield from (replace(case, material=m) for m in families)
    elif key == "lap":
        yield from (replace(case, lap=lap) for lap in knowledge.laps)
    elif key == "compound":
        usual = [c.id for c in knowledge.compounds.values() if c.kind in ("oxide", "diamond")]
        yield from (replace(case, compound=c) for c in usual)
    elif key == "prior":
        yield from (replace(case, prior=c) for c in USUAL_PRIORS if c in knowledge.compounds)
    else:
        for value in SLOTS[key].values:
            yield replace(case, facts=MappingProxyType({**case.facts, key: value}))


def askable(case: Case, known: set[str], knowledge: Knowledge) -> list[str]:
    """Keys that are not known yet and have a closed list of answers."""
    machine = [k for k in ("material", "lap", "compound", "prior") if getattr(case, k) is None]
    closed = [k for k in CONDITIONS if k not in known and SLOTS[k].closed]
    settled = {knowledge.looks[look].settles for look, _ in case.saw}
    told = {**case.facts, "facet_part": case.facet.part}
    closed = [k for k in closed if k not in settled]
    closed = [k for k in closed if all(told.get(slot) in values for slot, values in ONLY_WITH.get(k, {}).items())]
    if not set(SCRATCHED) & set(case.symptoms):
        closed = [k for k in closed if not k.startswith("scratch_")]
    mapped = case.facet.trials or not set(PARTLY) & set(case.symptoms)
    return [*machine, *closed, *(() if mapped else ("map",))]


def foreseen(p: Floats, shifts: Sequence[Floats]) -> Floats:
    """(answers, causes) the chance of each answer together with each cause, from the weights of the answers' rules.

    The answers to one question have chances that sum to 1 under every cause, so that asking alone moves no belief.
    """
    import numpy as np

    odds = np.exp(np.array(shifts))
    joint: Floats = p * odds / odds.sum(axis=0)
    return joint


def unknowns(prepared: Prepared, rules: PlainRules, most: int = 5) -> tuple[UnknownView, ...]:
    """The facts worth asking for, best first.

    The weights of an answer are those of the rules it alone would make fire; how likely it is follows from the causes
    it speaks for, and causes that are alike in this make every answer alike. The saving is what the order best for the
    answer costs less than the present order, in expected minutes.
    """
    import numpy as np

    from lapwise.engine.strategy.arrays import arrays_of, sequence_end  # start-up time
    from lapwise.engine.strategy.runs import greedy_order, greedy_runs  # start-up time

    knowledge, problem = rules.knowledge, prepared.problem
    if not problem.remedies:
        return ()
    arrays = arrays_of(problem)
    order, _ = greedy_order(arrays)
    cost_given_cause = sequence_end(arrays, order)
    fired = {f.rule for f in prepared.conclusions.trace}
    quiet: dict[str, list[RuleTest]] = {}
    for test in rules.rules.values():
        then = test.rule.then
        if test.rule.id not in fired and (then.evidence_for or then.evidence_against):
            for slot in test.slots:
                quiet.setdefault(slot, []).append(test)
    have = set(prepared.facts)
    findings = [Fact("finding", f) for f in prepared.conclusions.findings]
    place = {c: i for i, c in enumerate(problem.causes)}
    strength = knowledge.scales.strength
    shifts: dict[str, list[Floats]] = {}
    for key in askable(prepared.case, {f.slot for f in have}, knowledge):
        for answered in _answers(key, prepared.case, knowledge):
            new = [f for f in answered if f not in have]
            candidates = {r.rule.id: r for f in new for r in quiet.get(f.slot, ())}
            board: WorkingMemory | None = None
            shift = np.zeros_like(arrays.p)
            for test in candidates.values():
                board = board or WorkingMemory((*have, *findings, *new))
                if not test.fires(board):
                    continue
                then = test.rule.then
                for table, sign in ((then.evidence_for, 1.0), (then.evidence_against, -1.0)):
                    for cause, word in table.items():
                        if cause in place:
                            shift[place[cause]] += sign * strength[word]
            shifts.setdefault(key, []).append(shift)
    if not shifts:
        return ()
    joint = np.vstack([foreseen(arrays.p, told) for told in shifts.values()])
    of_key = [key for key, told in shifts.items() for _ in told]
    chance = joint.sum(axis=1)
    mass = joint / chance[:, None]
    done = np.zeros((len(mass), len(problem.remedies)), dtype=bool)
    best = greedy_runs(arrays, mass, done, np.repeat(arrays.paid[None, :], len(mass), axis=0)).minutes
    saved = dict.fromkeys(of_key, 0.0)
    for key, gain in zip(of_key, chance * np.maximum(0.0, mass @ cost_given_cause - best), strict=True):
        saved[key] += float(gain)
    views = [UnknownView(key, question(key), minutes) for key, minutes in saved.items()]
    views.sort(key=lambda v: (-v.value_minutes, v.key))
    return tuple(v for v in views if v.value_minutes >= LEAST_MINUTES)[:most]
