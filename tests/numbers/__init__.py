"""Every number that the site shows, read as a visitor reads it and held against the record.

molds       the invented molds, no two numbers of them alike, and the site built from them
quantity    what a figure must say, in both systems; reads a figure's text back, on its own
sentences   which sentence of the language file a text is, and what stands in its gaps
reading     a page's numbers, each with its place: the heading above it, and its label or sentence
expected*   which number of the record belongs at which place: one line for each
compared    what a page says beside what it should say
"""
