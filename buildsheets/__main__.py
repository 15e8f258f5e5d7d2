"""``python -m buildsheets``: the command line by another name."""

import sys

from buildsheets.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
