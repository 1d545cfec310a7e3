"""Knowledge bases and cases made up at random, for the tests and measurements of the rule engine."""

from __future__ import annotations

import random
from types import MappingProxyType

from lapwise.engine.conclusions import Fact
from lapwise.engine.knowledge.model import Cause, Finding, Knowledge, Scales, Symptom
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import AllOf, AnyOf, Not, Rule, Test, Then
from lapwise.engine.slots import SLOTS

HERE = Place("made-up.yaml", 1)
CHANCE = {"always": 0.98, "usually": 0.8, "often": 0.6, "sometimes": 0.3, "rarely": 0.1, "never": 0.02}
SCALES = Scales(
    chance=CHANCE,
    strength={"strongly": 2.0, "moderately": 1.0, "slightly": 0.4},
    frequency={"common": 4.0, "usual": 2.0, "rare": 1.0},
    background=0.15,
    unexplained=0.02,
    other_share=0.05,
    better_factor=4.0,
    worse_factor=0.5,
    trial_minutes=0.0,
    look_minutes=0.0,
    begin_chance=0.5,
    begin_saving=0.5,
    begin_told=1.0,
    begin_order=0.5,
    begin_tries=20.0,
)
CAUSES = ("grit", "wet", "dry", "slope", "soft")
FINDINGS = ("found-a", "found-b", "found-c")
WORDS = ("a", "b", "c", "d")
ONE = ("lap", "prior_lap", "carrier", "wetness")
MANY = ("symptom", "trait", "lap_trait", "material")
NUMBERS = ("mohs", "speed_rpm")
TOP = 2
"""How deep ``any`` may nest in a random rule."""


def rule(
    name: str, *parts: Test | AnyOf | Not, then: Then | None = None, tier: int = 0, because: str = "Made up."
) -> Rule:
    """A rule on ``parts``, concluding ``found-a`` unless told otherwise."""
    return Rule(
        id=name,
        theme="made-up",
        when=AllOf(tuple(parts)),
        then=then or Then(findings=("found-a",)),
        because=because,
        source="practice",
        limits="",
        tier=tier,
        place=HERE,
    )


def knowledge(
    *rules: Rule, causes: dict[str, tuple[str, ...]] | None = None, says: dict[str, dict[str, str]] | None = None
) -> Knowledge:
    """A base with these rules; ``causes``: id to the stages it shows up in; ``says``: symptom to its table."""
    stages = causes if causes is not None else dict.fromkeys(CAUSES, ())
    empty: MappingProxyType[str, object] = MappingProxyType({})
    tables = says or {}
    symptoms = {s: Symptom(s, s.upper(), HERE, "", "", {}, tables.get(s, {}), "Made up.", "practice") for s in WORDS}
    return Knowledge(
        materials={},
        laps={},
        compounds={},
        symptoms=symptoms,
        causes={c: Cause(c, c.title(), HERE, "", "", "usual", s, "practice") for c, s in stages.items()},
        remedies={},
        looks={},
        cautions={},
        findings={f: Finding(f, f, HERE) for f in FINDINGS},
        traits=dict(empty),  # type: ignore[arg-type]
        lap_traits={},
        sources={},
        rules={r.id: r for r in rules},
        scales=SCALES,
        digest="made-up",
    )


def some_test(rng: random.Random, bind: bool = True) -> Test:
    """A test on one of a few raw slots, so that random cases often meet it."""
    kind = rng.random()
    if kind < 0.15:
        bound = rng.choice(("at_least", "above", "at_most", "below"))
        return Test(rng.choice(NUMBERS), **{bound: float(rng.randint(1, 4))})  # type: ignore[arg-type]
    if bind and kind < 0.3:
        return Test(rng.choice((*ONE, *MANY)), bind=rng.choice(("x", "y")))
    values = rng.sample(WORDS, rng.choice((1, 1, 1, 2, 3)))
    return Test(rng.choice((*ONE, *MANY)), any_of=tuple(values))


def _some_part(rng: random.Random, tier: int, depth: int) -> Test | AnyOf | Not:
    kind = rng.random()
    if kind < 0.2 and depth:
        options = [
            AllOf(tuple(_some_part(rng, tier, depth - 1) for _ in range(rng.choice((1, 1, 2)))))
            for _ in range(rng.choice((2, 2, 3)))
        ]
        return AnyOf(tuple(options))
    if kind < 0.4:
        # a "not" on a variable stands at the top, where every engine has bound the variable before
        return Not(some_test(rng, bind=depth == TOP))
    if kind < 0.55 and tier:
        return Test("finding", any_of=(FINDINGS[rng.randrange(tier)],))
    return some_test(rng)


def some_then(rng: random.Random, tier: int) -> Then:
    """A conclusion of any kind; a rule of tier n may only find what later tiers use."""
    kind = rng.randrange(7)
    if kind < 2 and tier < len(FINDINGS):
        return Then(findings=(FINDINGS[tier],), evidence_for={rng.choice(CAUSES): "slightly"})
    if kind == 2:
        return Then(vetoes=(rng.choice(("press", "oil")),), cautions=("eyes",))
    if kind == 3:
        return Then(rules_out=(rng.choice(CAUSES),))
    if kind == 4:
        return Then(evidence_for={rng.choice(CAUSES): rng.choice(tuple(SCALES.strength))})
    if kind == 5:
        return Then(favours={"press": "moderately"}, not_applicable=("oil",), looks=("loupe",))
    return Then(evidence_against={rng.choice(CAUSES): "strongly"}, disfavours={"oil": "slightly"})


def some_rules(rng: random.Random, count: int) -> list[Rule]:
    """``count`` rules over three tiers with ``any``, ``not``, bounds, variables and findings."""
    out: list[Rule] = []
    while len(out) < count:
        tier = rng.choice((0, 0, 0, 1, 2))
        parts = tuple(_some_part(rng, tier, TOP) for _ in range(rng.choice((1, 2, 2, 3))))
        # nested "any" multiply: a rule of three such parts is more than anybody writes
        if sum(isinstance(p, AnyOf) for p in parts) < 3:
            out.append(rule(f"rule-{len(out):03d}", *parts, then=some_then(rng, tier), tier=tier))
    return out


def some_facts(rng: random.Random) -> list[Fact]:
    """A case: at most one value on the slots that hold one, any number on the others; much is unknown."""
    out = [Fact(slot, rng.choice(WORDS)) for slot in ONE if rng.random() < 0.6]
    for slot in MANY:
        out += [Fact(slot, w) for w in WORDS if rng.random() < 0.35]
    out += [Fact(slot, float(rng.randint(0, 5))) for slot in NUMBERS if rng.random() < 0.6]
    if rng.random() < 0.5:
        out.append(Fact("stage", rng.choice(SLOTS["stage"].values)))
    rng.shuffle(out)
    return out
