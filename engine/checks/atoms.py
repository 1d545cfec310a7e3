"""A rule's conclusions as single statements that can be compared."""

from __future__ import annotations

from lapwise.engine.knowledge.rule_model import CONCLUSIONS, Rule

Atom = tuple[str, str, str]
"""(what is concluded, about what, how strongly)."""

OPPOSITES = (
    ("for", "against"),
    ("for", "rules_out"),
    ("favours", "disfavours"),
    ("favours", "veto"),
    ("favours", "not_applicable"),
    ("veto", "not_applicable"),
    ("first", "veto"),
    ("first", "not_applicable"),
    ("first", "disfavours"),
)
"""Pairs of conclusions about one thing that cannot both be meant. A veto and "does not apply" differ: one is shown
with its reason, the other is left out quietly."""
OVERRULED = frozenset({("for", "rules_out"), ("favours", "veto"), ("favours", "not_applicable"), ("first", "veto")})
"""Pairs of which the second, wherever it holds, leaves the first without any effect."""


def atoms(rule: Rule) -> frozenset[Atom]:
    """All single statements of a rule."""
    return frozenset(
        (kind.key, about, getattr(rule.then, kind.field)[about] if kind.weighed else "")
        for kind in CONCLUSIONS
        for about in getattr(rule.then, kind.field)
    )


def opposed(a: frozenset[Atom], b: frozenset[Atom]) -> tuple[tuple[str, str, str], ...]:
    """(conclusion of ``a``, conclusion of ``b``, about what) for every pair that cannot both be meant, sorted."""
    mine = {(kind, about) for kind, about, _ in a}
    theirs = {(kind, about) for kind, about, _ in b}
    return tuple(
        sorted(
            (first, second, about)
            for kind, about in mine
            for one, two in OPPOSITES
            for first, second in ((one, two), (two, one))
            if kind == first and (second, about) in theirs
        )
    )
