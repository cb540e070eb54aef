"""Tests run the array code unless they ask for machine code: hundreds of small networks are not worth compiling."""

import os

from hypothesis import settings

os.environ.setdefault("TIDEOVER_NATIVE", "0")

# What decides whether a change goes in must not depend on chance; whoever works on the code draws anew each time.
settings.register_profile("repeatable", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("repeatable")
