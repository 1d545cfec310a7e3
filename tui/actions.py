"""The one table of actions: it feeds the keys, the row at the foot, the palette and the help pages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from textual.binding import Binding

from lapwise.engine.case import OUTCOMES

FOOT = 6
"""Most actions at the foot of a screen."""


@dataclass(frozen=True, slots=True)
class Action:
    """``id``: area and name. ``keys``: comma-separated keys as shipped. ``label``: one or two words for the foot.

    ``about``: a sentence for palette and help. ``foot``: its place at the foot from 1, 0 for none. ``also``: other
    words it is found by.
    """

    id: str
    keys: str
    label: str
    about: str
    foot: int = 0
    also: str = ""

    @property
    def area(self) -> str:
        """The area it belongs to; ``app`` for everywhere."""
        return self.id.partition(".")[0]

    @property
    def method(self) -> str:
        """The name of the method that does it."""
        return "do_" + self.id.partition(".")[2].replace("-", "_")


@dataclass(frozen=True, slots=True)
class Area:
    """One area of the program. ``short``: its name where there is little room."""

    id: str
    key: str
    label: str
    short: str
    about: str


AREAS: tuple[Area, ...] = (
    Area("case", "1", "Case", "Case", "The facet at hand: what is on the machine, what is seen, what to try"),
    Area("correction", "2", "Correction", "Correct", "Which way to turn the stone, and how far"),
    Area("transfer", "3", "Transfer", "Transfer", "How the stone sits on its dop after the transfer"),
    Area("record", "4", "Record", "Record", "What worked on each material"),
    Area("laps", "5", "Laps", "Laps", "Your own laps: what each carries, when it was cleaned"),
    Area("reference", "6", "Reference", "Find", "Look up anything known, with its source"),
    Area("machine", "7", "Machine", "Machine", "Your machine: gear, fine index, angle scale"),
)

_EVERYWHERE = (
    Action("app.help", "f1,question_mark", "Help", "Explain the part of the screen in use", 6),
    Action("app.guide", "f2", "Guide", "The guide on one page"),
    Action("app.glossary", "f3", "Words", "What the words of the trade mean"),
    Action(
        "app.promises",
        "f10",
        "What is kept",
        "What you may rely on: what is kept, when it is on disk, what can be lost",
    ),
    Action("app.page", "f6", "This area", "The help page of this area"),
    Action("app.light", "f4", "Light or dark", "Settings: light or dark colours", also="theme color night"),
    Action("app.large", "f5", "Large type", "Settings: more room and larger figures, or back"),
    Action("app.touch", "f7", "Touch", "Settings: large targets for fingers, or back"),
    Action("app.palette", "ctrl+p,colon", "All actions", "Find any action by its name"),
    Action("app.more", "f9", "More", "Choose any action of this area from a list"),
    Action("app.sample", "f8", "Sample", "Look at the invented sample, or go back to your own bench"),
    Action(
        "app.leave",
        "q",
        "Leave?",
        "Ask whether to leave, as ctrl+c does; nothing is lost by it",
        also="quit exit close end",
    ),
    Action("app.quit", "ctrl+q", "Leave", "Leave at once; the case stays open as it is", also="quit exit close end"),
)

_CASE = (
    Action("case.seen", "s", "Seen", "Say what is seen or felt on the facet", 1),
    Action("case.tell", "o", "Own words", "Type or dictate it in your own words; see first what was heard", 2),
    Action("case.try", "t,space", "Try", "Begin to try the marked remedy; the clock starts", 3),
    Action("case.look", "l", "Look", "Take a look first and say what it showed", 4),
    Action("case.say", "a", "Say more", "State more of what is known: wetness, speed, since when …", 5),
    Action("case.machine", "m", "Setup", "Change stone, lap, compound, stage or the previous step"),
    Action("case.fixed", "f", "Fixed", "The remedy fixed it: log it and close the case"),
    Action("case.better", "b", "Better", "Better, but not done: log it and go on"),
    Action("case.no-change", "n", "No change", "No change: log it; the next remedy then stands first"),
    Action("case.worse", "w", "Worse", "It got worse: log it; the next remedy then stands first"),
    Action("case.why", "enter", "Why", "Why the marked remedy is where it is, and how to do it"),
    Action("case.what-if", "i", "What if", "Change one thing for a moment and see what would move"),
    Action("case.causes", "y", "Causes", "What may be wrong, how likely, and what speaks for and against"),
    Action("case.cautions", "c", "Cautions", "All cautions, and what must not be done here"),
    Action("case.other", "r", "The rest", "Every other remedy: why it is not offered, and to try it all the same"),
    Action("case.plan", "p", "Plan", "Plan the work on this stone: steps, laps and speeds from cutting to polish"),
    Action("case.done", "h", "So far", "What was done in this case so far"),
    Action("case.undo", "u", "Undo", "Take back the last log; the record keeps that it was logged and taken back"),
    Action("case.edit", "e", "Time, note", "Correct the minutes of the last log, or add a note"),
    Action("case.something-new", "g", "New way", "Offer a remedy to try for once, so that your record learns of it"),
    Action("case.new", "x", "New case", "Close this case and begin another with the same machine"),
)

_CORRECTION = (
    Action("correction.mark", "space", "Mark", "Mark the cell: bright, dull, not known, and round again", 1),
    Action("correction.turned", "t", "Turned", "I have turned it as told: begin the next setting", 2),
    Action("correction.setting", "s", "Setting", "State facet, angle, index, gear, size and previous step", 3),
    Action("correction.ink", "i", "Ink", "Change between the polish map and the ink map", 4),
    Action("correction.fresh", "f", "Fresh", "The facet was inked or pre-polished afresh before this map", 5),
    Action("correction.bright", "b", "Bright", "The cell is bright (or rubbed, on an ink map)"),
    Action("correction.dull", "d", "Dull", "The cell is dull (or not rubbed, on an ink map)"),
    Action("correction.unknown", "k", "Not known", "The cell cannot be judged"),
    Action("correction.none", "o", "No stone", "There is no stone at this cell (triangles, kites)"),
    Action("correction.rest", "B", "Rest bright", "All cells not marked yet are bright (or rubbed)"),
    Action("correction.pace", "m", "Cursor", "After a mark the cursor stays where it is, or goes to the next cell"),
    Action("correction.fixed", "l", "Log it", "At the end: log that the correction fixed it, and close the case"),
    Action("correction.hand-over", "r", "To Transfer", "At the end: put what the facet needed into Transfer as a row"),
    Action("correction.finer", "plus", "Finer", "More cells, up to 7 by 7"),
    Action("correction.coarser", "minus", "Coarser", "Fewer cells, down to 3 by 3"),
    Action("correction.totals", "e", "Other turn", "State what you turned, where it was not as told"),
    Action("correction.back", "u", "Undo", "Take back the last mark or setting, or bring back what x forgot"),
    Action("correction.restart", "x", "Start again", "Forget all maps of this facet"),
    Action("correction.read", "right_square_bracket", "Read on", "Further down in the advice"),
    Action("correction.knob", "p", "Machine", "See or set what your fine index does"),
)

_TRANSFER = (
    Action("transfer.row", "a", "Add row", "Type a facet: index, angle, and the two changes it needed", 1),
    Action("transfer.change", "e", "Change", "Change the marked row", 2),
    Action("transfer.drop", "d", "Delete", "Take the marked row out", 3),
    Action("transfer.open", "o", "Open", "Read the rows from a file", 4),
    Action("transfer.save", "s", "Save", "Write the rows and predictions to a file"),
    Action("transfer.use", "c", "To case", "Let the case at hand know of these corrections"),
    Action("transfer.gear", "g", "Gear", "State the number of teeth of the index gear"),
    Action("transfer.clear", "x", "Empty", "Take all rows out"),
    Action("transfer.undo", "u", "Undo", "Bring back the list as it was before the last change"),
    Action("transfer.read", "right_square_bracket", "Read on", "Further down in the answer", 5),
    Action("transfer.read-back", "left_square_bracket", "Read back", "Further up in the answer"),
)

_RECORD = (
    Action("record.view", "v", "View", "Next view: what works, minutes by cause, progress, card, cases"),
    Action("record.material", "m", "Stone", "Choose the material", 1),
    Action("record.lap", "l", "Lap", "Only what was done on one of your own laps", 2),
    Action("record.open", "enter", "Open", "Open the marked case and read it from beginning to end"),
    Action("record.copy", "c", "Copy", "Copy the recipe card to the clipboard"),
    Action("record.file", "f", "To file", "Write the recipe card to a file"),
    Action(
        "record.import", "i", "Import", "Take in another record: a friend's, a club's, or yours from another machine", 3
    ),
    Action("record.export", "e", "Export", "Export the record: to import elsewhere, as a table, or as a copy", 4),
    Action("record.backup", "b", "Back up", "Make a backup of the record now", 5),
    Action("record.restore", "r", "Bring back", "Restore a backup: what it holds is added, nothing here is lost"),
    Action("record.check", "k", "Check", "Check the record for damage, and repair it"),
)

_LAPS = (
    Action("laps.add", "a", "Add", "Add a lap of your own", 1),
    Action("laps.cleaned", "c", "Cleaned", "The marked lap has just been cleaned", 2),
    Action("laps.charged", "g", "Charged", "Another compound went on the marked lap, beside what it carries", 3),
    Action("laps.correct", "u", "Carries", "Set right what the marked lap carries"),
    Action("laps.change", "e", "Change", "Change one thing of the marked lap: name, size, wear, note", 4),
    Action("laps.use", "t", "Use", "Put the marked lap on the machine in the case", 5),
    Action("laps.retire", "d", "Retire", "Take the marked lap off the list (the record keeps it)"),
)

_REFERENCE = (
    Action("reference.find", "slash", "Find", "Type what to look up", 1, also="grit mesh micron search"),
    Action("reference.kind", "k", "Kind", "Show one kind only: stones, troubles, laps, rules …", 2),
    Action("reference.follow", "enter", "Open", "Open the marked entry", 3),
    Action("reference.back", "backspace", "Back", "Back to the entry before", 4),
    Action("reference.read", "right_square_bracket", "Read on", "Further down in the entry", 5),
    Action("reference.add", "a", "Add file", "Take in a knowledge file: a guild's experience, own stones or rules"),
    Action("reference.put-away", "d", "Set aside", "Stop using one of your knowledge files; it is not deleted"),
)

_MACHINE = (
    Action("machine.change", "enter", "Change", "Change the marked line", 1),
    Action("machine.calibrate", "t", "Ink test", "The two-minute test that finds out which way things turn", 2),
    Action("machine.keep", "s", "Save", "Save the profile as it stands", 3),
    Action("machine.undo", "u", "Undo", "Back to the profile as saved", 4),
)

ACTIONS: tuple[Action, ...] = (*_EVERYWHERE, *_CASE, *_CORRECTION, *_TRANSFER, *_RECORD, *_LAPS, *_REFERENCE, *_MACHINE)

OUTCOME_ACTIONS: Mapping[str, str] = {outcome: f"case.{outcome}" for outcome in OUTCOMES}
_BY_ID = {action.id: action for action in ACTIONS}


def action_of(action_id: str) -> Action:
    """The action of this id."""
    return _BY_ID[action_id]


def of_area(area: str) -> tuple[Action, ...]:
    """The actions of an area (``app`` for those of everywhere), in the order of the table."""
    return tuple(action for action in ACTIONS if action.area == area)


def foot(area: str) -> tuple[Action, ...]:
    """The at most six actions at the foot of an area, the help last."""
    chosen = [a for a in (*of_area(area), *_EVERYWHERE) if a.foot]
    return tuple(sorted(chosen, key=lambda a: (a.foot, a.area == "app"))[:FOOT])


def bindings(actions: Iterable[Action], *, everywhere: bool = False) -> list[Binding]:
    """Key bindings with the action's id, so that a person's keymap can change the keys."""
    name = "app.act" if everywhere else "act"
    own = {"app.palette": "command_palette"}
    return [
        Binding(a.keys, own.get(a.id, f"{name}('{a.id}')"), a.label, show=False, id=a.id, priority=a.id == "app.quit")
        for a in actions
    ]


def area_bindings() -> list[Binding]:
    """The keys that change the area."""
    return [Binding(a.key, f"app.area('{a.id}')", a.label, show=False, id=f"area.{a.id}") for a in AREAS]
