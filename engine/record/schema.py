"""The tables of the record and the steps from each schema version to the next.

``cases``, ``steps``, ``lap_rows`` and ``marks`` are only ever added to. ``case_now`` and ``counts`` are worked out
from them and kept up to date in the same transaction; they can be rebuilt at any time. ``here`` names the cases and
laps to which something was logged at this bench: others came by an import. It does not travel.
"""

from __future__ import annotations

VERSION_1 = """
CREATE TABLE case_keys (id TEXT PRIMARY KEY CHECK (length(id) = 36)) WITHOUT ROWID;

CREATE TABLE cases (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE REFERENCES case_keys (id),
    at TEXT NOT NULL CHECK (length(at) = 24),
    facts TEXT NOT NULL CHECK (json_valid(facts)),
    knowledge TEXT NOT NULL,
    version TEXT NOT NULL
);

CREATE TABLE steps (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
    case_id TEXT NOT NULL REFERENCES case_keys (id),
    at TEXT NOT NULL CHECK (length(at) = 24),
    kind TEXT NOT NULL CHECK (kind IN ('try', 'look', 'facts', 'close', 'undo')),
    remedy TEXT,
    outcome TEXT CHECK (outcome IN ('fixed', 'better', 'no-change', 'worse')),
    look TEXT,
    result TEXT,
    minutes REAL CHECK (minutes >= 0 AND minutes <= 100000),
    note TEXT NOT NULL DEFAULT '',
    shown TEXT CHECK (shown IS NULL OR json_valid(shown)),
    facts TEXT CHECK (facts IS NULL OR json_valid(facts)),
    withdraws TEXT CHECK (withdraws IS NULL OR length(withdraws) = 36),
    knowledge TEXT NOT NULL,
    version TEXT NOT NULL,
    CHECK ((kind = 'try') = (remedy IS NOT NULL)),
    CHECK ((kind = 'try') = (outcome IS NOT NULL)),
    CHECK ((kind = 'look') = (look IS NOT NULL)),
    CHECK ((kind IN ('look', 'close')) = (result IS NOT NULL)),
    CHECK ((kind = 'facts') = (facts IS NOT NULL)),
    CHECK ((kind = 'undo') = (withdraws IS NOT NULL))
);
CREATE INDEX steps_of_case ON steps (case_id, id);

CREATE TABLE lap_rows (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
    lap_id TEXT NOT NULL CHECK (length(lap_id) = 36),
    at TEXT NOT NULL CHECK (length(at) = 24),
    kind TEXT NOT NULL CHECK (kind IN ('add', 'change', 'clean', 'resurface', 'remove')),
    body TEXT NOT NULL CHECK (json_valid(body)),
    CHECK (kind <> 'add' OR id = lap_id)
);
CREATE INDEX rows_of_lap ON lap_rows (lap_id, id);

CREATE TABLE case_now (
    case_id TEXT PRIMARY KEY REFERENCES case_keys (id),
    last TEXT NOT NULL,
    open INTEGER NOT NULL CHECK (open IN (0, 1)),
    withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
    material TEXT NOT NULL,
    lap TEXT NOT NULL,
    compound TEXT NOT NULL,
    own_lap TEXT NOT NULL
) WITHOUT ROWID;
CREATE INDEX now_by_open ON case_now (open, withdrawn, last);
CREATE INDEX now_by_last ON case_now (withdrawn, last);
CREATE INDEX now_by_material ON case_now (material, withdrawn, last);
CREATE INDEX now_by_own_lap ON case_now (own_lap, last);
"""

VERSION_2 = """
CREATE TABLE marks (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE CHECK (length(id) = 36),
    at TEXT NOT NULL CHECK (length(at) = 24),
    kind TEXT NOT NULL CHECK (kind IN ('forget', 'remember')),
    up_to INTEGER NOT NULL CHECK (up_to >= 0)
);

CREATE TABLE counts (
    kind TEXT NOT NULL,
    k1 TEXT NOT NULL,
    k2 TEXT NOT NULL,
    k3 TEXT NOT NULL,
    k4 TEXT NOT NULL,
    a INTEGER NOT NULL,
    b INTEGER NOT NULL,
    PRIMARY KEY (kind, k1, k2, k3, k4)
) WITHOUT ROWID;

CREATE INDEX now_by_own_pair ON case_now (own_lap, compound, last);
"""

VERSION_3 = """
CREATE TABLE here (
    id TEXT PRIMARY KEY CHECK (length(id) = 36),
    what TEXT NOT NULL CHECK (what = 'own')
) WITHOUT ROWID;
"""

SCRIPTS: tuple[str, ...] = (VERSION_1, VERSION_2, VERSION_3)
"""Script ``i`` leads from version ``i`` to ``i + 1``."""

CURRENT = len(SCRIPTS)
TABLES = frozenset({"case_keys", "cases", "steps", "lap_rows", "case_now"})
"""Tables that any version of a record has."""
APPLICATION_ID = 0x4C505749
"""Written into the file's header, so that another program's database is never taken for a record."""


def statements(script: str) -> list[str]:
    """The single statements of a script."""
    return [s.strip() for s in script.split(";\n") if s.strip()]
