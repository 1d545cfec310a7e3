"""The network that finds which rules can fire: experta's Rete nodes, wired for many rules on few kinds of facts.

It differs from experta's own matcher in four ways. A fact goes only to the patterns on its own slot that can take its
value, not to every test. Only conflict nodes that changed are asked for activations. Rules can be added between two
runs, so that the network grows with need and is never built twice. A reset goes through the nodes with a memory, once
each.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from lapwise.engine.conclusions import Value
from lapwise.engine.inference.experta_import import experta

_rete = experta.matchers.rete
_nodes = _rete.nodes
_check = _rete.check
_abstract = _rete.abstract
_mixins = _rete.mixins


class PatternNode(_mixins.AnyChild, _mixins.NoMemory, _abstract.Node):  # type: ignore[misc, name-defined]
    """All that a pattern asks of one fact, and the names it gives; a token is made only for a fact that passes."""

    def __init__(self, checks: list[Any]) -> None:
        super().__init__()
        self._checks = checks

    def take(self, fact: Any, make: Callable[[Any, dict[str, Any]], Any]) -> None:
        """Send the token that ``make`` makes of the fact to the children, if it passes."""
        context: dict[str, Any] = {}
        for check in self._checks:
            found = check(fact)
            if not found:
                return
            if found is not True:
                context.update(found)
        token = make(fact, context)
        for child in self.children:
            child.callback(token)


class Lane:
    """The patterns on one class of facts. Those that ask for one value are found by it, of the others those that ask by
    a predicate are asked here: most say no, so that a check of experta's for each costs more than all the rest."""

    def __init__(self) -> None:
        self._of_value: dict[Value, list[PatternNode]] = {}
        self._asking: list[tuple[Callable[[Value], bool], PatternNode]] = []
        self._always: list[PatternNode] = []

    def add(self, pattern: Any) -> PatternNode:
        """The node of a pattern."""
        # the type test is the lane itself; the capture of the whole fact comes last
        checks = [c for c in _rete.generate_checks(pattern) if not isinstance(c, _check.TypeCheck)]
        node = PatternNode(sorted(checks, key=lambda c: isinstance(c, _check.FactCapture)))
        asked = pattern.get("v")
        if isinstance(asked, experta.L):
            self._of_value.setdefault(asked.value, []).append(node)
        elif isinstance(asked, experta.P):
            self._asking.append((asked.match, node))
        else:
            self._always.append(node)
        return node

    def take(self, fact: Any, make: Callable[[Any, dict[str, Any]], Any]) -> None:
        """Let the patterns that may pass take the fact."""
        value = fact.get("v")
        for node in self._of_value.get(value, ()):
            node.take(fact, make)
        for accepts, node in self._asking:
            if accepts(value):
                node.take(fact, make)
        for node in self._always:
            node.take(fact, make)


class SlotBus(_nodes.BusNode):  # type: ignore[misc, name-defined]
    """The root: hands a fact to the lane of its class; facts no rule speaks of stop here."""

    def __init__(self) -> None:
        super().__init__()
        self._lanes: dict[type, Lane] = {}

    def add_pattern(self, pattern: Any) -> PatternNode:
        """The node of a pattern, in its lane."""
        return self._lanes.setdefault(type(pattern), Lane()).add(pattern)

    def add(self, fact: Any) -> None:
        """Send a fact that was declared to its lane."""
        if (lane := self._lanes.get(type(fact))) is not None:
            lane.take(fact, _rete.token.Token.valid)

    def remove(self, fact: Any) -> None:
        """Send a fact that was retracted to its lane."""
        if (lane := self._lanes.get(type(fact))) is not None:
            lane.take(fact, _rete.token.Token.invalid)


class MarkedConflictNode(_nodes.ConflictSetNode):  # type: ignore[misc, name-defined]
    """A conflict node that notes in ``marked`` that its activations changed."""

    def __init__(self, rule: Any, marked: dict[MarkedConflictNode, None]) -> None:
        super().__init__(rule)
        self._marked = marked

    def _reset(self) -> None:
        super()._reset()
        self.added: set[Any] = set()
        self.removed: set[Any] = set()

    def _activate(self, token: Any) -> None:
        super()._activate(token)
        self._marked[self] = None


class GrowingMatcher(_rete.ReteMatcher):  # type: ignore[misc, name-defined]
    """``__matcher__`` of the engine. Patterns equal to one another share their nodes."""

    def build_network(self) -> None:
        """An empty network; rules come through :meth:`add_rule`."""
        self.root_node = SlotBus()
        self._marked: dict[MarkedConflictNode, None] = {}
        self._with_memory: list[Any] = []
        self._terminals: dict[Any, PatternNode] = {}
        for rule in self.engine.get_rules():
            self.add_rule(rule)

    def add_rule(self, rule: Any) -> None:
        """Wire one rule: patterns first, then ``NOT`` of one pattern each, no two conditions alike.

        Reset the engine before the next fact is declared: facts already there do not reach the new nodes.
        """
        first, *rest = rule
        node = self._terminal(first)
        for condition in rest:
            negative = isinstance(condition, experta.NOT)
            kind = _nodes.NotNode if negative else _nodes.OrdinaryMatchNode
            join = kind(_check.SameContextCheck())
            self._with_memory.append(join)
            node.add_child(join, join.activate_left)
            self._terminal(condition[0] if negative else condition).add_child(join, join.activate_right)
            node = join
        conflict = MarkedConflictNode(rule, self._marked)
        self._with_memory.append(conflict)
        node.add_child(conflict, conflict.activate)

    def _terminal(self, pattern: Any) -> PatternNode:
        if pattern not in self._terminals:
            self._terminals[pattern] = self.root_node.add_pattern(pattern)
        return self._terminals[pattern]

    def changes(self, adding: Any = None, deleting: Any = None) -> tuple[list[Any], list[Any]]:
        """Pass on the facts and return (new activations, withdrawn ones) of the conflict nodes that changed."""
        for fact in deleting or ():
            self.root_node.remove(fact)
        for fact in adding or ():
            self.root_node.add(fact)
        added: list[Any] = []
        removed: list[Any] = []
        for node in self._marked:
            new, gone = node.get_activations()
            added.extend(new)
            removed.extend(gone)
        self._marked.clear()
        return added, removed

    def reset(self) -> None:
        """Forget all facts; the rules stay."""
        self._marked.clear()
        for node in self._with_memory:
            node._reset()
