"""What a person types about the facet under work, read: the options of the shell and the blanks of the screens."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from lapwise.engine.case import FACET_PARTS, FacetSetting, Trial
from lapwise.engine.contact.facet_map import read_map
from lapwise.engine.errors import BadInput, Issue, LapwiseError, nearest
from lapwise.engine.numerals import LONGEST_MM, read_number, read_size

ADAPTERS = ("45", "none")
_MOST_TEETH = 1000


def read_facet(
    part: str | None = None,
    angle: str | None = None,
    index: str | None = None,
    gear: str | None = None,
    size: str | None = None,
    adapter: str | None = None,
    trial: tuple[str, ...] = (),
    ink: tuple[str, ...] = (),
    map_: str | None = None,
) -> FacetSetting:
    """The facet as the options tell it. Raises :class:`BadInput` with every problem found."""
    problems: list[Issue] = []

    def take(read: Callable[[], Any]) -> Any:
        try:
            return read()
        except LapwiseError as error:
            problems.extend(error.problems)
            return None

    setting = FacetSetting(
        part=take(lambda: _choice(part, FACET_PARTS, "--part")),
        angle=take(lambda: _number(angle, "--angle", 0, 100, "degrees from 0 (dop upright) to 100 (90 is level)")),
        gear=take(lambda: _teeth(gear)),
        size_mm=take(lambda: _size(size)),
        adapter=take(lambda: _choice(adapter, ADAPTERS, "--adapter", alike={"45°": "45", "no": "none"})),
    )
    highest = setting.gear or _MOST_TEETH
    index_value = take(lambda: _number(index, "--index", 0, highest, f"an index setting from 0 to {highest}"))
    trials = [take(lambda: Trial(0.0, 0.0, _map(map_, "--map")))] if map_ is not None and not _unknown(map_) else []
    trials += [take(functools.partial(_trial, text, ink=True)) for text in ink]
    trials += [take(functools.partial(_trial, text, ink=False)) for text in trial]
    if problems:
        raise BadInput(problems)
    return replace(setting, index=index_value, trials=_by_setting(trials))


def _by_setting(trials: list[Trial]) -> tuple[Trial, ...]:
    """Ink maps just before the polish map of the same setting; lone ink maps first; polish maps keep their order."""
    polish = [t for t in trials if not t.ink]
    waiting = [t for t in trials if t.ink]
    ordered: list[Trial] = []
    for t in polish:
        same = [w for w in waiting if (w.turn, w.angle) == (t.turn, t.angle)]
        waiting = [w for w in waiting if w not in same]
        ordered += [*same, t]
    return (*waiting, *ordered)


def _unknown(text: str) -> bool:
    return text.strip().lower() in ("unknown", "")


def _choice(text: str | None, allowed: tuple[str, ...], where: str, alike: dict[str, str] | None = None) -> str | None:
    if text is None or _unknown(text):
        return None
    word = text.strip().lower()
    word = (alike or {}).get(word, word)
    if word not in allowed:
        raise BadInput(Issue("not one of the choices", where, text, allowed, nearest(word, allowed)))
    return word


def _number(text: str | None, where: str, low: float, high: float, allowed: str) -> float | None:
    if text is None or _unknown(text):
        return None
    value = read_number(text)
    if value is None:
        raise BadInput(Issue("not a number", where, text, (allowed,)))
    if not low <= value <= high:
        raise BadInput(Issue("out of range", where, text, (allowed,)))
    return value


def _teeth(text: str | None) -> int | None:
    value = _number(text, "--gear", 3, _MOST_TEETH, f"a whole number of teeth from 3 to {_MOST_TEETH}")
    if value is not None and value != int(value):
        raise BadInput(Issue("not a whole number", "--gear", str(text), ("a whole number of teeth",)))
    return None if value is None else int(value)


def _size(text: str | None) -> tuple[float, float] | None:
    if text is None or _unknown(text):
        return None
    size = read_size(text)
    if size is None:
        form = "side to side x tip to dop in mm, for example 9x6"
        allowed = (form, "one number for a facet as long as it is wide", f"over 0 and at most {LONGEST_MM:g} mm")
        raise BadInput(Issue("not a facet size", "--size", text, allowed))
    return size


def _trial(text: str, *, ink: bool) -> Trial:
    where = "--ink" if ink else "--trial"
    form = "TURN,ANGLE,MAP" if ink else "TURN,ANGLE,MAP or TURN,ANGLE,MAP,fresh"
    example = "0,0,RRN/RRN/RRN" if ink else "0,0,BBD/BBD/BBD"
    parts = [p.strip() for p in text.split(",")]
    fresh = len(parts) == 4 and parts[3].lower() == "fresh"
    if len(parts) != 3 and not fresh:
        raise BadInput(Issue(f"needs {form}, numbers with a decimal point", where, text, (f"for example {example}",)))
    turn = _number(parts[0], where, -360, 360, "the turn in degrees, clockwise positive")
    angle = _number(parts[1], where, -90, 90, "the angle change in degrees, raise positive")
    if turn is None or angle is None:
        what = "the turn and the angle change must be numbers"
        raise BadInput(Issue(what, where, text, (f"for example {example}",)))
    return Trial(turn, angle, _map(parts[2], where, ink=ink), ink=ink, fresh=fresh or ink)


def _map(text: str, where: str, *, ink: bool = False) -> str:
    try:
        return read_map(text, ink=ink).text
    except LapwiseError as error:
        raise BadInput([replace(problem, where=where) for problem in error.problems]) from None
