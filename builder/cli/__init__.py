"""The command `shotbook`. Stages are imported by the command that needs them, so that help is quick."""

from builder.cli import start, molds, ladder, site, versions  # isort: skip - the order in which help lists them
from builder.cli.common import main

__all__ = ["ladder", "main", "molds", "site", "start", "versions"]
