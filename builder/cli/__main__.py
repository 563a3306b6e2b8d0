"""`python -m builder.cli`, for where the command is not on the path."""

import sys

from builder.cli.main import main

sys.exit(main())
