"""The machine profile goes with a backup and comes back with it, never over one that is there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from lapwise.engine.case import Case
from lapwise.engine.folders import folders
from lapwise.engine.machine import MachineProfile, load_profile, save_profile
from lapwise.engine.record.care import make_backup, restore
from lapwise.engine.record.store import Record


def test_a_backup_keeps_the_machine_and_restores_it_only_where_none_is(tmp_path: Path) -> None:
    here, there = folders(tmp_path / "here"), folders(tmp_path / "there")
    profile = replace(MachineProfile(), gear=96)
    with Record.open(here) as record:
        record.log_outcome(Case(material="topaz"), "clean-lap", "fixed", minutes=5.0, knowledge_digest="t")
        save_profile(here, profile)
        backup = make_backup(record)
    with Record.open(there) as other:
        restore(other, backup)
        assert load_profile(there) == profile
        assert len(other.cases()) == 1
        save_profile(there, replace(profile, gear=64))
        restore(other, backup)
    assert load_profile(there) == replace(profile, gear=64)
