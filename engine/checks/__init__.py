"""Checks of the rule base: one function each, listed in :data:`CHECKS`, run by :func:`run`. What the loader refuses
(ids that do not exist, statements without a source, rules in a circle) needs none."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from lapwise.engine.checks.conditions import impossible_conditions, unnecessary_conditions
from lapwise.engine.checks.model import Check, Finding, Severity
from lapwise.engine.checks.overlap import conflicting_rules, redundant_rules, subsumed_rules
from lapwise.engine.checks.reach import (
    dead_ends,
    idle_remedies,
    pairless_materials,
    silent_looks,
    uncarried_pairs,
    uncured_causes,
    unexplained_symptoms,
    unreached_causes,
    unused_cautions,
    unused_traits,
)
from lapwise.engine.checks.sources import (
    missing_reasons,
    missing_words,
    unknown_experience,
    unused_sources,
)
from lapwise.engine.checks.twice import findings_counted_twice, looks_counted_twice, remedies_counted_twice
from lapwise.engine.knowledge.model import Knowledge

CHECKS: tuple[Check, ...] = (
    missing_words,
    missing_reasons,
    redundant_rules,
    subsumed_rules,
    conflicting_rules,
    impossible_conditions,
    unnecessary_conditions,
    unreached_causes,
    uncured_causes,
    idle_remedies,
    unexplained_symptoms,
    dead_ends,
    silent_looks,
    looks_counted_twice,
    remedies_counted_twice,
    findings_counted_twice,
    unused_cautions,
    uncarried_pairs,
    pairless_materials,
    unused_traits,
    unused_sources,
    unknown_experience,
)

RunCases = Callable[[Knowledge, Path], Iterable[Finding]]
"""Runs the person's own kept cases in a folder; a finding for each whose advice is no longer what it was."""

__all__ = ["CHECKS", "Check", "Finding", "RunCases", "Severity", "run"]


def run(
    knowledge: Knowledge,
    cases_dir: Path | None = None,
    *,
    run_cases: RunCases | None = None,
    only: Iterable[str] | None = None,
    progress: Callable[[int, float | None], None] | None = None,
) -> list[Finding]:
    """What the checks find, errors first, then in the order of :data:`CHECKS`.

    ``run_cases`` is called on ``cases_dir`` if both are given and the folder is there. ``only``: names of checks.
    ``progress``: called with how many checks are done and their share of all; what it raises ends the run.
    """
    wanted = None if only is None else frozenset(only)
    chosen = [check for check in CHECKS if wanted is None or check.name in wanted]
    out: list[Finding] = []
    for done, check in enumerate(chosen):
        if progress:
            progress(done, done / len(chosen))
        out += check.find(knowledge)
    if run_cases is not None and cases_dir is not None and cases_dir.is_dir():
        out.extend(run_cases(knowledge, cases_dir))
    return sorted(out, key=lambda finding: finding.severity != "error")
