"""Where the machine profile is kept: machine.json in the user data folder, written whole or not at all."""

from __future__ import annotations

import json
from pathlib import Path

from lapwise.engine.errors import BadInput, Damaged, Issue
from lapwise.engine.folders import Folders
from lapwise.engine.machine.profile import MachineProfile, profile_from
from lapwise.engine.newfile import read_json, write_anew

FILE_NAME = "machine.json"
_LARGEST_BYTES = 100_000


def profile_path(where: Folders) -> Path:
    """The file of the profile."""
    return where.data / FILE_NAME


def load_profile(where: Folders) -> MachineProfile | None:
    """The stored profile, or None if there is none. Raises :class:`Damaged` if the file cannot be understood."""
    path = profile_path(where)
    try:
        data = read_json(path, _LARGEST_BYTES)
        if not isinstance(data, dict):
            raise ValueError("it holds no list of facts")
    except FileNotFoundError:
        return None
    except OSError as error:
        raise Damaged(Issue(f"cannot be read: {error.strerror}", str(path))) from None
    except ValueError as error:
        what = f"the machine profile is damaged ({error}); move it away and run `lapwise machine calibrate`"
        raise Damaged(Issue(what, str(path))) from None
    try:
        return profile_from(data, str(path))
    except BadInput as error:
        raise Damaged(error.problems) from None


def save_profile(where: Folders, profile: MachineProfile) -> Path:
    """Write the profile and return its file. It is on disk when this returns; an interrupted write changes nothing."""
    path = profile_path(where)
    write_anew(path, json.dumps(profile.as_json(), indent=2) + "\n")
    return path
