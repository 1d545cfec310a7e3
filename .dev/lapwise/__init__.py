"""Lapwise: a bench companion for gem faceters. Parts: ``engine``, ``rules``, ``knowledge``, ``tui``."""

from pkgutil import extend_path

# beside a checkout's links there may be an installed lapwise (an unpacked sdist has no links): its parts count too
__path__ = extend_path(__path__, __name__)
