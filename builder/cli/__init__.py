"""The command `shotbook`. Stages are imported by the command that needs them, so that help is quick."""

from builder.cli import reading, publishing, versioning  # isort: skip - the order in which help lists them
from builder.cli.frame import main

__all__ = ["main", "publishing", "reading", "versioning"]
