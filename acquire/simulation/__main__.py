"""Run the simulated sensor."""

import sys

from acquire.simulation.program import main

if __name__ == "__main__":
    sys.exit(main())
