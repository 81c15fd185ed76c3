"""Settings of all tests."""

from hypothesis import settings

# a busy machine is no fault of an example
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
