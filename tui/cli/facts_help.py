"""The end of the help of diagnose and explain: where ids are listed, and what --fact takes."""

from __future__ import annotations

import textwrap

from lapwise.engine.slots import CONDITIONS, SLOTS

MEASURED = {"speed": ("300rpm",), "facet_size": ("9x6mm",)}
"""Conditions that may be told as a measure, with an example each."""


def facts_help() -> str:
    """What may stand in --fact, and where the ids are listed: the end of the help of diagnose and explain."""
    lines = []
    for key in CONDITIONS:
        values = SLOTS[key].values
        if key == "prior":
            continue
        if SLOTS[key].kind == "number":
            words = "a number of degrees, for example 6"
        elif values[0].startswith("@"):
            words = f"an id of {values[0][1:]}"
        else:
            words = " | ".join((*values, *MEASURED.get(key, ())))
        lines += textwrap.wrap(f"{key}={words}", 76, subsequent_indent="    ", break_on_hyphens=False)
    ids = "Ids: lapwise knowledge list materials (or laps, compounds, symptoms, causes, remedies, looks)."
    return f"{ids}\n\n\b\n--fact takes (unknown is always allowed):\n" + "\n".join(f"  {line}" for line in lines)
