"""What changed since a release, in words that pages and the terminal share."""

from __future__ import annotations

from collections.abc import Sequence

from builder.base.texts import Texts
from builder.model import Drift, Version

SHORT = 8
"""Digits of a digest that are shown."""


def drift_cause(cause: str, texts: Texts) -> str:
    """One cause of a drift: a stage, the libraries, a table, or one plastisol or mold material of it."""
    section, _, entry = cause.partition(" ")
    if entry:
        return texts.say(f"release.drift.cause.{section}", name=texts.name(section, entry))
    return texts.say(f"release.drift.cause.{cause}")


def drift_lead(version: Version, drift: Drift, texts: Texts) -> Sequence[str]:
    """Since when and by what a version reads differently: sentences to stand over the numbers."""
    then, now = version.made_by, drift.today
    since = texts.say(
        "release.drift.since",
        version=version.version,
        date=version.date,
        shotbook=then.shotbook,
        tables=then.tables[:SHORT],
    )
    by = texts.say("release.drift.today", shotbook=now.shotbook, tables=now.tables[:SHORT])
    causes = ", ".join(drift_cause(cause, texts) for cause in drift.causes)
    told = [since, by, texts.say("release.drift.causes", causes=causes)]
    if drift.unread:
        told.append(texts.say("release.drift.unread", why=drift.unread))
    return told
