"""A small invented knowledge base and a few cases for the tests of record and learning. Nothing in it is published."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from lapwise.engine.case import Case
from lapwise.engine.folders import Folders, folders
from lapwise.engine.knowledge.model import Cause, Compound, Knowledge, Lap, Material, Pair, Remedy, Scales, Symptom
from lapwise.engine.knowledge.place import Place
from lapwise.engine.knowledge.rule_model import AllOf, Rule, Test, Then

PLACE = Place("invented.yaml", 1)
CHANCE = {"always": 0.98, "usually": 0.85, "often": 0.6, "sometimes": 0.3, "rarely": 0.1, "never": 0.02}


def where(path: Path) -> Folders:
    """Folders under a temporary path."""
    return folders(path / "data")


def material(name: str, line: tuple[str, ...], rank: str) -> Material:
    """A material of which nothing is known but its place in the family."""
    pair = Pair(("tin-lap",), ("aluminium-oxide",), "practice")
    return Material(
        name,
        name.capitalize(),
        PLACE,
        rank,
        line,
        "",
        "",
        None,
        None,
        None,
        (),
        None,
        None,
        None,
        None,
        None,
        frozenset(),  # type: ignore[arg-type]
        (pair,),
        (),
        (),
        (),
    )


def lap(name: str) -> Lap:
    """A type of lap."""
    return Lap(name, name.replace("-", " ").capitalize(), PLACE, "", 4, frozenset(), ("oxide",), (100, 300), (), (), "")


def compound(name: str, kind: str, um: float | None) -> Compound:
    """A compound."""
    return Compound(name, name.replace("-", " ").capitalize(), PLACE, "", kind, None, None, um, (), "")  # type: ignore[arg-type]


def remedy(name: str, fixes: dict[str, str], minutes: float = 5.0) -> Remedy:
    """A remedy."""
    return Remedy(
        name,
        name.replace("-", " ").capitalize(),
        PLACE,
        "",
        ("Do it.",),
        minutes,
        None,
        0.0,
        fixes,
        "never",
        0.0,
        (),
        (),
        (),
        None,
        0,
        "practice",
    )


def cause(name: str, base: str = "occasional") -> Cause:
    """A cause."""
    return Cause(name, name.replace("-", " ").capitalize(), PLACE, "", "", base, ("polish",), "practice")


def knowledge(**changes: Any) -> Knowledge:
    """The small knowledge base: one family, two causes that matter, two remedies."""
    scales = Scales(
        chance=CHANCE,
        strength={"strongly": 2.3, "moderately": 1.4, "slightly": 0.7},
        frequency={"very-common": 4, "common": 2, "occasional": 1, "uncommon": 0.5, "rare": 0.2},
        background=0.1,
        unexplained=0.02,
        other_share=0.05,
        better_factor=3.0,
        worse_factor=0.5,
        trial_minutes=0.0,
        look_minutes=0.0,
        begin_chance=0.5,
        begin_saving=0.5,
        begin_told=1.0,
        begin_order=0.5,
        begin_tries=20.0,
    )
    rule = Rule(
        "haze-is-grit",
        "invented",
        AllOf((Test("symptom", ("haze",)),)),
        Then(evidence_for={"stray-grit": "slightly"}),
        "Invented.",
        "practice",
        "",
        0,
        PLACE,
    )
    parts: dict[str, Any] = {
        "materials": {
            m.id: m
            for m in (
                material("beryl", ("beryl",), "family"),
                material("aquamarine", ("aquamarine", "beryl"), "variety"),
                material("emerald", ("emerald", "beryl"), "variety"),
                material("topaz", ("topaz",), "species"),
            )
        },
        "laps": {x: lap(x) for x in ("tin-lap", "zinc-lap", "acrylic-lap")},
        "compounds": {
            c.id: c
            for c in (
                compound("aluminium-oxide", "oxide", 0.3),
                compound("cerium-oxide", "oxide", 1.0),
                compound("diamond-3000", "diamond", 5.0),
                compound("diamond-50000", "diamond", 0.4),
            )
        },
        "symptoms": {
            s: Symptom(s, s.replace("-", " ").capitalize(), PLACE, "", "", {})
            for s in ("haze", "fine-scratches", "stays-dull")
        },
        "causes": {c.id: c for c in (cause("stray-grit", "common"), cause("loaded-lap"), cause("other"))},
        "remedies": {
            r.id: r
            for r in (
                remedy("clean-lap", {"loaded-lap": "usually", "stray-grit": "sometimes"}),
                remedy("clean-everything", {"stray-grit": "usually"}, 10.0),
            )
        },
        "looks": {},
        "cautions": {},
        "findings": {},
        "traits": {},
        "lap_traits": {},
        "sources": {},
        "rules": {rule.id: rule},
        "scales": scales,
        "digest": "invented",
    }
    return Knowledge(**{**parts, **changes})


def case(**changes: Any) -> Case:
    """A case of an aquamarine that hazes on tin with alumina."""
    parts: dict[str, Any] = {
        "material": "aquamarine",
        "lap": "tin-lap",
        "compound": "aluminium-oxide",
        "symptoms": ("haze",),
        "facts": {"wetness": "wet"},
    }
    return Case(**{**parts, **changes})


def shown(grit: float, fix_grit: float, fix_loaded: float, **more: Any) -> dict[str, Any]:
    """What was shown: two causes, with the chances of the remedy to fix each."""
    return {
        "posterior": {"stray-grit": grit, "loaded-lap": 1 - grit},
        "fix": {"stray-grit": fix_grit, "loaded-lap": fix_loaded},
        **more,
    }
