"""The void of the closed mold: its connected pieces, their mouths, and what each piece is."""
