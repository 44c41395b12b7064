"""What all tests share."""

from hypothesis import settings

# A test that shares its machine with others may take long; whether it is right does not depend on that.
settings.register_profile("regdash", deadline=None)
settings.load_profile("regdash")
