"""Records to Markdown: one Jinja template to a page kind, which places and computes nothing.

words       sentences, names and numbers as HTML
mold        a mold's page and its shot card
collection  the catalogue, and the pages that there are once
"""

from builder.pages.collection import CollectionPages
from builder.pages.mold import MoldPages
from builder.pages.words import Words

__all__ = ["CollectionPages", "MoldPages", "Words"]
