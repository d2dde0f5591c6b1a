"""Measurement and tables to Advice: amounts, the shooting window, what may go wrong."""

from builder.advice.advise import advise

__all__ = ["advise"]
