"""What was heard in a person's own words, line by line: taken, asked or left out. Pure: no widget is touched here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

from lapwise.engine.case import Case, Outcome
from lapwise.tui.open_case import with_told

if TYPE_CHECKING:
    from lapwise.engine.words.heard import Hearing

ENDED: tuple[Outcome, ...] = ("no-change", "better", "worse")
"""How a try may have ended that is told of afterwards."""
LOGGED = ("tried", "saw")


@dataclass(frozen=True, slots=True)
class Told:
    """One thing told. ``key`` and ``value`` as in :class:`lapwise.engine.words.heard.Heard`; ``value`` None: left out.

    ``choices``: the values it may have. ``asked``: it is not clear and waits for an answer; nothing of it is taken.
    """

    id: str
    words: str
    key: str
    value: str | None
    choices: tuple[str, ...]
    asked: bool
    decided: bool = False
    """The person has said so; other words elsewhere in the text do not change it."""

    @property
    def taken(self) -> bool:
        """Whether it would go into the case as it stands."""
        return not self.asked and self.value is not None

    def answered(self, value: str | None) -> Told:
        """The same with its meaning chosen; None leaves it out. A try still has to be told how it went."""
        if value is not None and self.key == "tried" and "=" not in value:
            return replace(self, choices=tuple(f"{value}={end}" for end in ENDED), value=None, asked=True)
        return replace(self, value=value, asked=False, decided=True)

    def turned(self) -> Told:
        """Left out if it would be taken, taken again if it was left out; what is asked is left out."""
        if self.asked or self.value is not None:
            return self.answered(None)
        return self.answered(self.choices[0]) if len(self.choices) == 1 else replace(self, asked=True)


def told(hearing: Hearing, before: Iterable[Told] = ()) -> tuple[Told, ...]:
    """The lines of a hearing in the order of the text; what was answered ``before`` to the same words stays so."""
    found: list[tuple[int, Told]] = []
    for heard in hearing.heard:
        choices = heard.could_be or (heard.value,)
        if heard.key == "tried":
            remedy = heard.value.partition("=")[0]
            choices = tuple(dict.fromkeys((heard.value, *(f"{remedy}={end}" for end in ENDED))))
        line = Told("", heard.words, heard.key, heard.value if heard.sure else None, choices, not heard.sure)
        found.append((heard.start, line))
    for doubt in hearing.unsure:
        # a fact's readings carry its name
        choices = tuple(choice.removeprefix(f"{doubt.key}=") for choice in doubt.could_be)
        found.append((doubt.start, Told("", doubt.words, doubt.key, None, choices, True)))
    decided = {line.id: line for line in before if line.decided and not line.asked}
    out: dict[str, Told] = {}
    for _, line in sorted(found, key=lambda f: f[0]):
        name = "|".join((line.key, line.words.lower(), *line.choices))
        while name in out:
            name += "+"
        out[name] = replace(decided.get(name, line), id=name)
    return tuple(out.values())


def stated(lines: Iterable[Told], case: Case) -> Case:
    """The case with what the lines take of its machine, its symptoms and its facts."""
    for line in lines:
        if line.taken and line.key not in LOGGED and line.value is not None:
            case = with_told(case, line.key, line.value)
    return case


def logged(lines: Iterable[Told], case: Case) -> tuple[dict[str, Outcome], dict[str, str]]:
    """Remedies with how they ended, and looks with what they showed, that the case does not hold yet."""
    tried: dict[str, Outcome] = {}
    saw: dict[str, str] = {}
    for line in lines:
        first, _, second = (line.value or "").partition("=")
        if line.taken and line.key == "tried" and (first, second) not in case.tried:
            tried[first] = cast("Outcome", second)
        elif line.taken and line.key == "saw" and (first, second) not in case.saw:
            saw[first] = second
    return tried, saw
