"""Settings of all tests."""

from hypothesis import settings

settings.register_profile("holdzero", deadline=None)  # a loaded computer is not a failure
settings.load_profile("holdzero")
