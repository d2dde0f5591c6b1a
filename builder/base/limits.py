"""How much a file may ask of the machine that reads it, asked before it is read. One mold stays below 1.5 GB.

Memory per unit was measured: about 300 bytes a facet while a mesh is welded, 45 bytes a cell while plastic is
parted on a grid, 9 bytes a pixel while a photo is turned upright.
"""

from __future__ import annotations

STL_BYTES = 100_000_000
"""A binary STL of two million facets."""
MOLD_BYTES = 150_000_000
"""All STL files of a mold together."""
FACETS = 2_000_000
"""Facets of one file, and of all files of a mold together."""
BODIES = 500
"""Separate shells of one file; a mold's part is one, with a hollow or two."""
SOURCE_BYTES = 100_000_000
"""A file that a mold was drawn in."""
ZIP_ENTRIES = 1000
"""Files in a 3MF."""
MODEL_BYTES = 400_000_000
"""Of the XML in a 3MF, unpacked; it is read a piece at a time."""
OPEN_PAIRS = 5_000_000
"""Pairs of corners at open edges that lie so near each other that they may be one."""
CELLS = 25_000_000
"""Cells of a grid."""
PHOTO_BYTES = 60_000_000
PHOTO_PIXELS = 100_000_000
OWN_FILES = 12
"""Own plastisols, and as many own mold materials: each makes a window with each of the other kind."""
OWN_FILE_BYTES = 40_000
"""An own plastisol or mold material, a ladder's readings."""
