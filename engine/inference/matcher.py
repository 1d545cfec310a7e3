"""The network that finds which rules can fire: experta's Rete nodes, wired for many rules on few kinds of facts.

It differs from experta's own matcher in four ways. A fact goes only to the patterns on its own slot, not to every
type test. Only conflict nodes that changed are asked for activations. Rules can be added between two runs, so that the
network grows with need and is never built twice. A reset goes through the nodes with a memory, once each.
"""

from __future__ import annotations

from typing import Any

from lapwise.engine.inference.experta_import import experta

_rete = experta.matchers.rete
_nodes = _rete.nodes
_check = _rete.check


class SlotBus(_nodes.BusNode):  # type: ignore[misc, name-defined]
    """The root: hands a fact to the lane of its class."""

    def __init__(self) -> None:
        super().__init__()
        self.lanes: dict[type, Any] = {}

    def lane(self, fact_type: type) -> Any:
        """The node that tests for ``fact_type``, made on first use."""
        if fact_type not in self.lanes:
            node = _nodes.FeatureTesterNode(_check.TypeCheck(fact_type))
            self.add_child(node, node.activate)
            self.lanes[fact_type] = node
        return self.lanes[fact_type]

    def add(self, fact: Any) -> None:
        """Send a fact that was declared to its lane; facts no rule speaks of stop here."""
        if (node := self.lanes.get(type(fact))) is not None:
            node.activate(_rete.token.Token.valid(fact))

    def remove(self, fact: Any) -> None:
        """Send a fact that was retracted to its lane."""
        if (node := self.lanes.get(type(fact))) is not None:
            node.activate(_rete.token.Token.invalid(fact))


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
        self._terminals: dict[Any, Any] = {}
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

    def _terminal(self, pattern: Any) -> Any:
        if pattern not in self._terminals:
            node = self.root_node.lane(type(pattern))
            # the type test is the lane itself; the capture of the whole fact comes last
            checks = [c for c in _rete.generate_checks(pattern) if not isinstance(c, _check.TypeCheck)]
            for test in sorted(checks, key=lambda c: isinstance(c, _check.FactCapture)):
                for child in node.children:
                    if getattr(child.node, "matcher", None) is test:
                        node = child.node
                        break
                else:
                    new = _nodes.FeatureTesterNode(test)
                    node.add_child(new, new.activate)
                    node = new
            self._terminals[pattern] = node
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
