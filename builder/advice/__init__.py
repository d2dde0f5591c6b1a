"""Measurement and tables to Advice: amounts, the shooting window, what may go wrong, the log."""

from builder.advice.advise import advise
from builder.advice.logbook import agreement, fit

__all__ = ["advise", "agreement", "fit"]
