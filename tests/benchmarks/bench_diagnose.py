"""One changed answer to a new quick ranking, warm, at the shipped rule count and at 1,000 rules.

    python tests/benchmarks/bench_diagnose.py

Aims: 16 ms and 100 ms (medians). The 1,000 are the shipped rules and copies of them under other ids.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from lapwise.engine.case import Case
from lapwise.engine.diagnosis import Session
from lapwise.engine.folders import folders
from lapwise.engine.inference import PlainRules, RuleEngine
from lapwise.engine.knowledge.loader import load
from lapwise.engine.knowledge.model import Knowledge

ANSWERS = (
    ("wetness", "dry"),
    ("wetness", "wet"),
    ("speed", "fast"),
    ("speed", "slow"),
    ("pressure", "heavy"),
    ("onset", "sudden"),
    ("extent", "one-facet"),
    ("carrier", "oil"),
    ("lap_surface", "caked"),
    ("lap_surface", "glazed"),
    ("since", "new-lap"),
    ("included", "yes"),
    ("scratch_form", "dotted"),
    ("scratch_place", "edges"),
    ("prior_clean", "yes"),
    ("prior_clean", "no"),
)
BASE = Case(material="amethyst", lap="phenolic-lap", compound="cerium-oxide", symptoms=("fine-scratches",))


def swollen(knowledge: Knowledge, count: int) -> Knowledge:
    """The same knowledge with copies of its rules (symptom tables apart) up to ``count``."""
    rules = dict(knowledge.rules)
    plain = list(knowledge.rules.values())
    turn = 0
    while len(rules) < count:
        rule = plain[turn % len(plain)]
        name = f"{rule.id}-copy-{turn // len(plain)}"
        rules[name] = replace(rule, id=name)
        turn += 1
    return replace(knowledge, rules=rules)


def changed_answers(knowledge: Knowledge) -> list[float]:
    session = Session(knowledge)
    for key, value in ANSWERS:  # warm: every rule that comes up has entered the network
        session.quick(replace(BASE, facts=MappingProxyType({key: value})))
    session._prepared.clear()
    out = []
    for key, value in ANSWERS:
        case = replace(BASE, facts=MappingProxyType({key: value}))
        start = time.perf_counter()
        session.quick(case)
        out.append(time.perf_counter() - start)
    return out


def of_rules(knowledge: Knowledge) -> tuple[float, float, float]:
    """Milliseconds, medians: one run of the rules by experta and by the plain evaluator; which fact would help."""
    session = Session(knowledge)
    prepared = [session.prepare(replace(BASE, facts=MappingProxyType({key: value}))) for key, value in ANSWERS]
    engine, plain = RuleEngine(knowledge), PlainRules(knowledge)
    out = []
    for work in (
        lambda p: engine.run(p.facts),
        lambda p: plain.run(p.facts),
        lambda p: session.unknowns(p.case),
    ):
        taken = []
        for _ in range(5):
            for each in prepared:
                start = time.perf_counter()
                work(each)
                taken.append(time.perf_counter() - start)
        out.append(1000 * statistics.median(taken))
    return out[0], out[1], out[2]


def main() -> None:
    with tempfile.TemporaryDirectory() as empty:
        knowledge = load(folders(Path(empty))).knowledge
    for name, known in ((f"{len(knowledge.rules)} rules", knowledge), ("1,000 rules", swollen(knowledge, 1000))):
        seconds = changed_answers(known)
        middle, most = 1000 * statistics.median(seconds), 1000 * max(seconds)
        print(f"{name}: changed answer median {middle:.1f} ms, worst {most:.1f} ms")
    print(
        "experta {:.1f} ms, plain {:.1f} ms a run of the rules; which fact would help {:.1f} ms".format(
            *of_rules(knowledge)
        )
    )


if __name__ == "__main__":
    main()
