"""`python -m optiform` is the command `optiform`."""

import sys

from optiform.cli import main

sys.exit(main())
