"""Records to Markdown: one Jinja template to a page kind, which places and computes nothing.

words       sentences, names and numbers as HTML
mold        a mold's page and its shot card
collection  the catalogue, and the pages that there are once
"""

from builder.site.pages.collection import CollectionPages
from builder.site.pages.html import Words
from builder.site.pages.mold import MoldPages

__all__ = ["CollectionPages", "MoldPages", "Words"]
