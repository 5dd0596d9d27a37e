"""`python -m optiform` is the command `optiform`."""

import sys

from optiform.cli import program

sys.exit(program())
