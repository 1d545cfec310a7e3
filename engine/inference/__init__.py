"""Inference: from the raw facts of a case to what the rules conclude.

``RuleEngine`` runs experta and is loaded on first use; ``PlainRules`` and ``explain_rule`` need only plain Python.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from lapwise.engine.inference.evaluator import Checked, PlainRules, RuleCheck, RuleTest, WorkingMemory, explain_rule

if TYPE_CHECKING:
    from lapwise.engine.inference.run import RuleEngine

__all__ = ["Checked", "PlainRules", "RuleCheck", "RuleEngine", "RuleTest", "WorkingMemory", "explain_rule"]


def __getattr__(name: str) -> Any:
    if name == "RuleEngine":
        from lapwise.engine.inference.run import RuleEngine  # start-up time

        return RuleEngine
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
