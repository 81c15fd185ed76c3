"""``python -m evenground`` is the same as ``evenground``."""

from evenground.cli import main

if __name__ == "__main__":
    main()
