"""Heat and flow of hot plastisol in a printed mold: pure functions, one for each published formula."""
