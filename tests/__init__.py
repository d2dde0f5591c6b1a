"""The checks: one file for each module of the builder, and the solids that they measure."""

import os
import sys

if sys.dont_write_bytecode:
    # Every run would compile all tests again, and each process that a test starts the package.
    sys.dont_write_bytecode = False
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
