"""Tests run the array code unless they ask for machine code: hundreds of small networks are not worth compiling."""

import os

os.environ.setdefault("TIDEOVER_NATIVE", "0")
