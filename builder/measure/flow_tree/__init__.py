"""The plastic as a tree from the sprue: necks, gates, baits, runner and vents, sections along each way."""
