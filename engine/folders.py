"""Where a person's own files live."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import platformdirs


@dataclass(frozen=True, slots=True)
class Folders:
    """``data``: own knowledge, rules and the record; ``config``: keymap and choices; ``cache``: may be deleted."""

    data: Path
    config: Path
    cache: Path

    @property
    def record(self) -> Path:
        """The record's database file."""
        return self.data / "record.sqlite3"

    @property
    def own_knowledge(self) -> Path:
        """Own materials, laps and the like, in the same form as the shipped ``knowledge``."""
        return self.data / "knowledge"

    @property
    def own_rules(self) -> Path:
        """Own rules, in the same form as the shipped ``rules``."""
        return self.data / "rules"

    @property
    def own_cases(self) -> Path:
        """Cases kept as lasting tests of own rules."""
        return self.data / "cases"


def folders(data: str | os.PathLike[str] | None = None) -> Folders:
    """The folders to use: ``data``, else LAPWISE_DATA, else the user data folder. Nothing is created here."""
    chosen = data or os.environ.get("LAPWISE_DATA")
    if chosen:
        base = Path(chosen).expanduser()
        return Folders(base, base / "config", base / "cache")
    dirs = platformdirs.PlatformDirs("lapwise", appauthor=False)
    return Folders(Path(dirs.user_data_path), Path(dirs.user_config_path), Path(dirs.user_cache_path))
