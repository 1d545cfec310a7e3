"""The machine profile: what differs from machine to machine."""

from lapwise.engine.machine.profile import USUAL_GEAR, MachineProfile, gear_of, profile_from
from lapwise.engine.machine.store import load_profile, profile_path, save_profile

__all__ = ["USUAL_GEAR", "MachineProfile", "gear_of", "load_profile", "profile_from", "profile_path", "save_profile"]
