"""Why a remedy is not offered, in one sentence: the shell and the screens ask here."""

from __future__ import annotations

from lapwise.engine.diagnosis.listing import SELDOM
from lapwise.engine.diagnosis.model import Diagnosis
from lapwise.engine.wording import percent, whole_minutes

_KINDS = {"veto": "Do not do it here", "not-applicable": "It does not apply here"}


def why_not(remedy: str, answer: Diagnosis) -> str | None:
    """The reason why ``remedy`` is not among what is worth trying; None if it is."""
    if any(step.remedy == remedy for step in answer.listed):
        return None
    if (out := next((e for e in answer.left_out if e.remedy == remedy), None)) is not None:
        return f"{_KINDS.get(out.kind, 'It is left out')}: {out.because}"
    if answer.stop and not answer.plan:
        return answer.stop
    step = next((s for s in answer.rest if s.remedy == remedy), None)
    if step is None:
        return "It fixes none of the causes that are still possible."
    if step.ends:
        return "Not yet: there is still something worth trying."
    if step.part_of:
        return f"Not worth a try of its own after “{step.part_of}”, which does the same or nearly the same."
    if step.now >= 2 * step.chance and step.now >= 0.1:
        return f"Not worth trying now: what is listed cures the same; after that its chance is {percent(step.chance)}."
    cost = f"chance {percent(step.now)}, {whole_minutes(step.minutes)}"
    if step.usual < SELDOM:
        return f"Not yet: few cutters would try it this early ({cost}). It may come up once what is listed has failed."
    return f"Not worth trying now: {cost}. A look, or saying more of what you know, saves more."
