"""``python -m lapwise`` is ``lapwise``."""

from lapwise.tui.cli.main import main

main()
