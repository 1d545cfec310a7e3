"""The options that describe the facet under work, shared by `correct`, `diagnose` and `explain`."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import click

from lapwise.tui.typed import read_facet

_OPTIONS = (
    click.option("--part", metavar="PART", help="Which facet: table, crown, girdle or pavilion."),
    click.option(
        "--angle", metavar="DEGREES", help="Facet angle: 0 with the dop upright over the lap, 90 with it level."
    ),
    click.option("--index", metavar="TOOTH", help="Index setting the facet was cut at."),
    click.option("--gear", metavar="TEETH", help="Teeth of the index gear, for example 96."),
    click.option("--size", metavar="ACROSSxLONG", help="Facet in mm: side to side x tip to dop, for example 9x6."),
    click.option(
        "--adapter", metavar="45|none", help="For a table: held in a 45-degree adapter, or straight in the handpiece."
    ),
    click.option(
        "--trial",
        multiple=True,
        metavar="TURN,ANGLE,MAP[,fresh]",
        help="A setting tried and what it made bright. TURN and ANGLE in degrees from the first setting, "
        "clockwise and raise positive; MAP in rows from the tip end to the dop end, B bright, D dull, "
        "? not sure, . no stone. The last one is where the stone is now.",
    ),
    click.option(
        "--ink",
        multiple=True,
        metavar="TURN,ANGLE,MAP",
        help="The same for ink: R rubbed off, N not.",
    ),
    click.option("--map", "map_", metavar="MAP", help="One map at the first setting: short for --trial 0,0,MAP."),
)
_NAMES = ("part", "angle", "index", "gear", "size", "adapter", "trial", "ink", "map_")


def facet_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the facet options to a command; it receives them as one argument ``facet``, a :class:`FacetSetting`."""

    @functools.wraps(function)
    def with_facet(*args: Any, **kwargs: Any) -> Any:
        given = {name: kwargs.pop(name) for name in _NAMES}
        return function(*args, facet=read_facet(**given), **kwargs)

    wrapped: Callable[..., Any] = with_facet
    for option in reversed(_OPTIONS):
        wrapped = option(wrapped)
    return wrapped
