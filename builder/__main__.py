"""`python -m builder` is the command `shotbook`."""

from builder.cli import main

main()
