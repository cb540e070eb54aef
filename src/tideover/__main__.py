"""``python -m tideover`` is the command line."""

import sys

from tideover.cli import main

if __name__ == "__main__":
    sys.exit(main())
