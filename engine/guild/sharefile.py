"""A share as a file: JSON Lines, or Parquet by pyarrow. The same content is always the same bytes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, BinaryIO

from lapwise.engine.errors import BadInput, Issue
from lapwise.engine.guild.model import COLUMNS, FORMAT, WHAT, Share
from lapwise.engine.guild.needs import needed

ENDINGS = (".jsonl", ".parquet")
PARQUET_KEY = b"lapwise"


def header(share: Share) -> dict[str, Any]:
    """The first line of a share, and the metadata of a Parquet one."""
    noise = None if share.noise is None else {"epsilon": share.noise.epsilon, "scale": share.noise.scale}
    return {
        "row": "header",
        "what": WHAT,
        "format": FORMAT,
        "token": share.token,
        "quarter": share.quarter,
        "knowledge": share.knowledge,
        "version": share.version,
        "cases": share.cases,
        "noise": noise,
        "rows": len(share.rows),
    }


def _dump(data: Mapping[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=True, allow_nan=False)


def check_name(name: str) -> None:
    """Raises :class:`BadInput` unless the name ends as a share does, and Parquet can be written if it is that."""
    if not name.endswith(ENDINGS):
        raise BadInput(Issue("a share ends in .jsonl or .parquet", "lapwise record share", name, ENDINGS))
    if name.endswith(".parquet"):
        needed("pyarrow.parquet", "a share in Parquet")


def write(share: Share, file: BinaryIO, name: str) -> None:
    """Write a share in the form that its name ends in."""
    rows = sorted(share.rows.items())
    if name.endswith(".parquet"):
        parquet = needed("pyarrow.parquet", "a share in Parquet")
        arrow = needed("pyarrow", "a share in Parquet")
        columns = {c: [key[i] for key, _ in rows] for i, c in enumerate(COLUMNS[:5])}
        counts = {c: [value[i] for _, value in rows] for i, c in enumerate(COLUMNS[5:])}
        schema = arrow.schema(
            [(c, arrow.string()) for c in columns] + [(c, arrow.int64()) for c in counts],
            metadata={PARQUET_KEY: _dump(header(share)).encode()},
        )
        parquet.write_table(arrow.table({**columns, **counts}, schema=schema), file)
        return
    file.write(_dump(header(share)).encode() + b"\n")
    for key, value in rows:
        file.write(_dump(dict(zip(COLUMNS, (*key, *value), strict=True))).encode() + b"\n")
