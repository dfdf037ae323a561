"""`python -m advisor` is the same as `advisor`."""

import sys

from advisor.cli import main

sys.exit(main())
