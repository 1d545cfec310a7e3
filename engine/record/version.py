"""The version of Lapwise that wrote a row."""

from __future__ import annotations

from functools import lru_cache


@lru_cache(maxsize=1)
def version() -> str:
    """The installed version, or "unknown" in a checkout that is not installed."""
    from importlib import metadata

    try:
        return metadata.version("lapwise")
    except metadata.PackageNotFoundError:
        return "unknown"
