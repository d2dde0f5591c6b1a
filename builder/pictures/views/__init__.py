"""The views of a mold: bodies, cuts, symbols, and the labels over them."""
