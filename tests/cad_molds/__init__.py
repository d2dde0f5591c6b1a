"""Trial molds drawn as makers draw them in CAD, with exact truths; nothing here knows how molds are read."""
