"""``python -m identify``: the same as the command ``identify-unknown``."""

from __future__ import annotations

import sys

from identify.cli import main

if __name__ == "__main__":
    sys.exit(main())
