"""Released versions over time: the numbers they are compared by, and whether they still read the same."""
