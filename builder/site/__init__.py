"""The whole generated site: the catalogue, pages, data and drawings, as addresses with their content."""
