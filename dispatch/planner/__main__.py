"""``python -m dispatch.planner solve|check|offers|travel``; see ``command``."""

import sys

from dispatch.planner.command import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
