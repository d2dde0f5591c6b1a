"""Closing the mold: parting faces found and matched, each part placed in the frame of the closed mold."""
