"""Build backend: setuptools, with what an earlier build left behind thrown away first.

Setuptools keeps ``build/`` between two runs of ``pip install .``, so that a file renamed since would be installed
under its old name as well. A wheel made from a clean folder holds what the source tree holds, and nothing else.
"""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from setuptools import build_meta
from setuptools.build_meta import *  # noqa: F403  (the hooks of an ordinary and an editable install)
from setuptools.command.egg_info import manifest_maker

manifest_maker.template = ".ci/MANIFEST.in"  # what the sdist holds; setuptools looks at the top of the tree only

Settings = dict[str, Any] | None


def build_wheel(wheel_directory: str, config_settings: Settings = None, metadata_directory: str | None = None) -> str:
    """Build a wheel into ``wheel_directory`` and return its file name; ``build/`` is emptied before."""
    shutil.rmtree(Path("build"), ignore_errors=True)
    name: str = build_meta.build_wheel(wheel_directory, config_settings, metadata_directory)
    return name
