"""``python -m evenground`` is the same as ``evenground``."""

from evenground.cli import main

main()
