"""The extra that adding up needs, asked for in one place."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from lapwise.engine.errors import BadInput, Issue

INSTALL = "pip install 'lapwise[guild]'"


def needed(module: str, what: str) -> Any:
    """The module, or :class:`BadInput` that says how to install it. ``what``: what cannot be done without it."""
    try:
        return import_module(module)
    except ImportError:
        raise BadInput(Issue(f"{what} needs the extra 'guild': {INSTALL}", module.partition(".")[0])) from None
