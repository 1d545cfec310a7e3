"""Writes an experience file: pooled numbers as knowledge that any bench can take."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lapwise.engine.guild.pool import Outcome, Pooled
from lapwise.engine.knowledge import experience
from lapwise.engine.knowledge.experience import ALL


def text(outcome: Outcome, *, benches: int, shares: int, cases: int, made: str, knowledge: str) -> str:
    """The YAML of an experience file. The same numbers always give the same text."""
    head = [
        "# What benches of a guild found, added up. Take it with: lapwise knowledge add FILE",
        f"# {shares} shares of {benches} benches, {cases} cases, {made}; {len(outcome.far)} left out as odd.",
        "# A row: value (range that holds it with 90 %) of the trials behind it, a few at most from each bench.",
        "experience:",
    ]
    return "\n".join([*head, *_groups(outcome.numbers, benches - len(outcome.far), made, knowledge)]) + "\n"


def _groups(numbers: Sequence[Pooled], benches: int, made: str, knowledge: str) -> Iterator[str]:
    by_group: dict[str, list[Pooled]] = {ALL: []}
    for number in numbers:
        by_group.setdefault(ALL if number.level == ALL else f"{number.level}.{number.name}", []).append(number)
    for group, inside in sorted(by_group.items(), key=lambda item: (item[0] != ALL, item[0])):
        yield f"  {group}:"
        if group == ALL:
            yield f"    benches: {max(benches, 1)}"
            yield f"    made: {made}"
            yield f"    knowledge: '{knowledge}'"
        fixes = sorted((n.remedy, n.cause, n) for n in inside if n.kind == "fix")
        causes = sorted((n.cause, n) for n in inside if n.kind == "cause")
        if fixes:
            yield "    fixes:"
        last = ""
        for remedy, cause, number in fixes:
            if remedy != last:
                yield f"      {remedy}:"
            last = remedy
            yield f"        {cause}: {experience.row(number.found)}"
        if causes:
            yield "    causes:"
        for cause, number in causes:
            yield f"      {cause}: {experience.row(number.found)}"
