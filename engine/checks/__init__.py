"""Checks of the rule base: one class each, listed in :data:`CHECKS`, run by :func:`run`."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from lapwise.engine.checks.model import Check, Finding, Severity
from lapwise.engine.checks.registry import CHECKS
from lapwise.engine.knowledge.model import Knowledge

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
        out += check().find(knowledge)
    if run_cases is not None and cases_dir is not None and cases_dir.is_dir():
        out.extend(run_cases(knowledge, cases_dir))
    return sorted(out, key=lambda finding: finding.severity != "error")
