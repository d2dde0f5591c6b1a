"""What each picture shows: bodies laid out, cuts, symbols, and the words written over them."""
