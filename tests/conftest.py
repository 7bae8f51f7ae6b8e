"""Property tests draw the same examples every time, so that a run says the same of the same code everywhere."""

from hypothesis import settings

settings.register_profile("same-every-time", derandomize=True)
settings.load_profile("same-every-time")
