"""The one place that imports experta: everything else takes it from here.

experta 1.9.4 pins frozendict 1.2, which reads ``collections.Mapping``, gone since Python 3.10. The name is lent for
the time of that one import and taken back, so that nobody else sees it. experta's own package swallows an
``ImportError`` and would leave an empty shell, hence the check; it also sets up the root logger of the process,
which is not a library's business, hence the handlers are put back as they were.
"""

from __future__ import annotations

import collections
import collections.abc
import logging
from typing import Any


def import_experta() -> Any:
    """The experta package, whole. Raises ``ImportError`` if a part of it is missing."""
    lent = not hasattr(collections, "Mapping")
    handlers = list(logging.root.handlers)
    names: Any = collections
    if lent:
        names.Mapping = collections.abc.Mapping
    try:
        import frozendict  # noqa: F401
    finally:
        if lent:
            del names.Mapping
    import experta

    for extra in [h for h in logging.root.handlers if h not in handlers]:
        logging.root.removeHandler(extra)
    if not hasattr(experta, "KnowledgeEngine"):
        raise ImportError("experta is installed but did not load: KnowledgeEngine is missing")
    return experta


experta = import_experta()
