"""`python -m ui` is `ramphold`."""

import sys

from ui.cli import main

sys.exit(main())
