"""Measurement and tables to Advice: amounts, the shooting window, what may go wrong, the log."""
