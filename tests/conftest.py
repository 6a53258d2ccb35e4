"""What every test shares: in CI the examples drawn are the same each time, so that a failure can be had again."""

import os

from hypothesis import settings

settings.register_profile("ci", derandomize=True, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("ci")
