"""What cutters suspect where the same is seen, as evidence on the causes beside that of the rules.

A conditional logit over the causes, its offset what rules and tables believe (``tests/benchmarks/fit_hunches.py``). A
hunch rests on what is stated alone, never on what was tried or what a look showed: those are weighed by their own
chances, so what a plan foresees of a step stays what is believed after it.
"""

from __future__ import annotations

from collections.abc import Iterable

from lapwise.engine.conclusions import Evidence, Fact, Provenance
from lapwise.engine.diagnosis.habits import Habits, signs_in_words, weighed
from lapwise.engine.knowledge.model import PRACTICE, Knowledge


def hunches_on(facts: Iterable[Fact], hunches: Habits, knowledge: Knowledge) -> tuple[Evidence, ...]:
    """One weight for each cause that some hunch speaks of, with the strongest signs."""
    out = []
    for cause, found in weighed(hunches.holding(facts)).items():
        weight = found.total
        signs = found.signs(1.0 if weight > 0 else -1.0)
        words = signs_in_words(signs, knowledge)
        said = f"Cutters {'often' if weight > 0 else 'seldom'} find this{f' with {words}' if words else ''}."
        finding = "; ".join(map(str, signs)) or "any case"
        out.append(Evidence(finding, cause, weight, Provenance("", said, PRACTICE)))
    return tuple(out)
