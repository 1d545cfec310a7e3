"""The colours: one theme for a bright bench, one for a dark room, and none at all where NO_COLOR is set."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Any

from textual.theme import Theme

LIGHT, DARK, PLAIN = "bright-bench", "dark-room", "ansi-dark"


FACET = {"facet-bright": "ansi_default", "facet-dull": "ansi_default", "facet-ground": "ansi_default"}
"""Colours of the facet's map where a theme of ours does not name them."""


def _theme(name: str, facet: tuple[str, str, str], on_primary: str, **colours: Any) -> Theme:
    """A theme of ours. ``facet``: bright, dull and ground of the map; ``on_primary``: letters under the cursor."""
    more = {
        "block-cursor-background": colours["primary"],
        "block-cursor-foreground": on_primary,
        "input-selection-background": f"{colours['primary']} 30%",
        "footer-key-foreground": colours["accent"],
    }
    return Theme(name=name, dark=name == DARK, variables={**more, **dict(zip(FACET, facet, strict=True))}, **colours)


def themes() -> tuple[Theme, Theme]:
    """The light and the dark theme. Text on its ground has a contrast of at least 7 to 1 in both."""
    light = _theme(
        LIGHT,
        ("#ffffff", "#5a5344", "#d3cab2"),
        "#ffffff",
        primary="#0d5a55",
        secondary="#6b4710",
        accent="#84330c",
        warning="#7a4300",
        error="#96181d",
        success="#1d5a23",
        foreground="#191815",
        background="#f4f0e4",
        surface="#fcfaf2",
        panel="#e4decb",
    )
    dark = _theme(
        DARK,
        ("#d9b97a", "#94918a", "#10100e"),
        "#10100e",
        primary="#86cfc3",
        secondary="#d9b97a",
        accent="#f0a56b",
        warning="#f2bd5c",
        error="#ff8f88",
        success="#97d48d",
        foreground="#ece8dd",
        background="#10100e",
        surface="#191916",
        panel="#2a2a25",
    )
    return light, dark


def first_theme(environment: Mapping[str, str] | None = None, chosen: str | None = None) -> str:
    """The theme to start with: none at all under NO_COLOR, else the one chosen last, else the dark one."""
    env = os.environ if environment is None else environment
    if env.get("NO_COLOR"):
        return PLAIN
    return chosen if chosen in (LIGHT, DARK) else DARK
