"""The rules of a knowledge base as CLIPS constructs: a second opinion from another rule engine.

CLIPS (https://www.clipsrules.net, through clipspy) takes ``and``, ``or`` and ``not`` in its own form, so nothing of
our normal form stands between the knowledge base and its network. Raises ``ImportError`` where clips is missing.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import count

import clips

from lapwise.engine.conclusions import Conclusions, Fact
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.knowledge.rule_model import AnyOf, Condition, Not, Rule, Test
from lapwise.engine.slots import SLOTS


def _text(word: str) -> str:
    return '"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _order(part: Condition) -> int:
    # CLIPS binds variables from left to right, so what binds comes before what only compares
    return 0 if isinstance(part, Test) else 2 if isinstance(part, Not) else 1


class _Writer:
    """Writes one rule."""

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        self.numbers = count()

    def write(self) -> str:
        left = self._condition(self.rule.when)
        right = [f"(assert (fired {_text(self.rule.id)}))"]
        right += [f"(assert (finding {_text(name)}))" for name in self.rule.then.findings]
        return (
            f"(defrule rule-{self.rule.id} (declare (salience {-self.rule.tier})) (start) {left} => {' '.join(right)})"
        )

    def _condition(self, part: Condition) -> str:
        if isinstance(part, Test):
            return self._pattern(part)
        if isinstance(part, Not):
            return self._not(part)
        if isinstance(part, AnyOf):
            return f"(or {' '.join(self._condition(option) for option in part.options)})"
        inner = " ".join(self._condition(p) for p in sorted(part.parts, key=_order))
        return f"(and {inner})" if len(part.parts) > 1 else inner

    def _pattern(self, test: Test) -> str:
        if test.any_of:
            return f"({test.slot} {'|'.join(_text(w) for w in test.any_of)})"
        if test.bind:
            return f"({test.slot} ?{test.bind})"
        name = f"?n{next(self.numbers)}"
        bounds = [(">=", test.at_least), (">", test.above), ("<=", test.at_most), ("<", test.below)]
        checks = [f":({sign} {name} {value})" for sign, value in bounds if value is not None]
        return f"({test.slot} {'&'.join([name, *checks])})"

    def _not(self, part: Not) -> str:
        absent = f"(not {self._pattern(part.test)})"
        if self.rule.cautious:
            return absent
        slot = SLOTS[part.test.slot]
        through = slot.known_by if slot.kind == "many" else slot.name
        return f"(and (exists ({through} ?)) {absent})" if through else "(never)"


TOLD = ("fired", "finding")


class ClipsEngine:
    """The rules of ``knowledge`` in CLIPS.

    When no rule fires any more, CLIPS itself lists what was asserted of ``TOLD``: each fact taken out into Python stays
    in its memory, and every later run would be slower by it.
    """

    def __init__(self, knowledge: Knowledge) -> None:
        self._env = clips.Environment()
        self._env.build("(deffacts beginning (start))")
        for rule in sorted(knowledge.rules.values(), key=lambda r: r.id):
            self._env.build(_Writer(rule).write())
        for name in TOLD:
            self._env.build(f"(defglobal ?*{name}* = (create$))")
            tell = f"({name} ?told) => (bind ?*{name}* (create$ ?*{name}* ?told))"
            self._env.build(f"(defrule tell-{name} (declare (salience -10000)) {tell})")

    def run(self, facts: Iterable[Fact]) -> tuple[set[str], set[str]]:
        """(ids of the rules that fired, findings) for raw ``facts``."""
        self._env.reset()
        values = ((f.slot, _text(f.value) if isinstance(f.value, str) else repr(float(f.value))) for f in facts)
        self._env.load_facts(" ".join(f"({slot} {value})" for slot, value in values))
        self._env.run()
        fired, findings = ({str(told) for told in self._env.eval(f"?*{name}*")} for name in TOLD)
        return fired, findings


def differences(engine: ClipsEngine, facts: Iterable[Fact], ours: Conclusions) -> list[str]:
    """What CLIPS makes of ``facts`` otherwise than ``ours``: one line each, empty if they agree."""
    fired, findings = engine.run(facts)
    own = {f.rule for f in ours.trace}
    return (
        [f"{r}: fires in CLIPS only" for r in sorted(fired - own)]
        + [f"{r}: does not fire in CLIPS" for r in sorted(own - fired)]
        + [f"{f}: a finding on one side only" for f in sorted(findings ^ set(ours.findings))]
    )
