"""`lapwise knowledge new rule ID --from-case CASE`: a rule from a case in which you found the cure yourself."""

from __future__ import annotations

from lapwise.engine.errors import Issue, NothingFound
from lapwise.engine.folders import Folders
from lapwise.engine.knowledge.model import Knowledge
from lapwise.engine.record.store import Record
from lapwise.engine.teaching import draft_rule, write_rule
from lapwise.tui.cli.opening import sure
from lapwise.tui.cli.output import note, say, say_all, say_json, wants_json, wrap


def teach_rule(rule_id: str, case_id: str, knowledge: Knowledge, where: Folders, *, yes: bool) -> None:
    """Draft the rule, show it and the earlier cases it would change, ask, then write it and keep the case."""
    if not where.record.exists():
        raise NothingFound(Issue("nothing has been logged yet", "--from-case", case_id))
    with Record.open(where, readonly=True) as record:
        draft = draft_rule(record, knowledge, case_id, rule_id)
    as_json = wants_json()
    if not as_json:
        say_all(draft.text.splitlines())
        say()
        say(f"First remedies of this case now: {', '.join(draft.before) or 'none'}")
        say(f"With the rule: {', '.join(draft.after) or 'none'}")
        say(f"Earlier cases it speaks of: {draft.compared}; it would change {len(draft.changed)} of them")
        for change in draft.changed[:20]:
            cure = f", cured by {change.cured_by} ({change.verdict})" if change.cured_by else ""
            moved = f"{', '.join(change.before)} -> {', '.join(change.after)}"
            say(wrap(f"{change.case_id[-6:]} {change.at[:10]}: {moved}{cure}", "      ", "  "))
        say_all(draft.remarks)
    if not yes:
        sure(
            "Write this rule?",
            "say --yes to write this rule",
            "lapwise knowledge new rule --from-case",
            seen=not as_json,
        )
    rule, test = write_rule(draft, where)
    if as_json:
        say_json({**draft.as_json(), "file": str(rule), "kept_case": str(test) if test else None})
    else:
        note(f"lapwise: written to {rule}" + (f"; the case is kept in {test}" if test else ""))
