"""The order in which rules fire: by tier, then by rule id, then by the facts; nothing else decides.

experta's own strategy finds an activation to withdraw by bisection on a key that many share, misses some, and so fires
rules whose ``not`` no longer holds; among equals its order follows the hash seed.
"""

from __future__ import annotations

from typing import Any

from lapwise.engine.inference.experta_import import experta


def firing_key(activation: Any) -> tuple[int, str, tuple[tuple[str, str], ...]]:
    """(tier, rule id, facts): the smallest fires first. Every rule of the network carries ``rule_id``."""
    facts = sorted((type(f).__name__, str(f.get("v", ""))) for f in activation.facts)
    return (-activation.rule.salience, activation.rule.rule_id, tuple(facts))


class FixedOrder(experta.abstract.Strategy):  # type: ignore[misc]
    """Full re-sort on every change: exact removal, and an order that depends on the rules and facts alone."""

    def _update_agenda(self, agenda: Any, added: Any, removed: Any) -> None:
        if not added and not removed:
            return
        gone = set(removed)
        kept = [a for a in agenda.activations if a not in gone]
        for activation in added:
            activation.key = None  # equality compares it: an activation and its withdrawal must compare equal
            kept.append(activation)
        # the engine takes from the right-hand end
        kept.sort(key=firing_key, reverse=True)
        agenda.activations = kept
