"""Pictures of a mold: ray-cast views, drawings over them, data for turning the mold in the browser.

palette   the one table of colours            camera    where a point lies in a picture
rays      which triangle a ray meets          scene     bodies, paints, smooth normals
light     sky and lamp over a scene           shading   a scene as pixels
symbols   bolts, axes, the ground, cuts       kit       a mold's shapes, made ready once
views     what each picture shows             noted     the views that carry words
callouts  lines and words over a picture      figures   numbers for descriptions
cuts      cuts square to the flow             drawing   the whole set
files     pixels to image files               social    one picture for links
photos    the maker's own, without metadata   faulty    where a mesh is open
changed   what a version changed              turntable data for looking round
qr        an address as a QR code             alone    pictures to give away, with their words
"""

from builder.pictures.open_edges import draw_open_edges
from builder.pictures.photos import photos, photos_to_give
from builder.pictures.picture_set import draw
from builder.pictures.qr import qr_svg
from builder.pictures.render.rays import slow_note
from builder.pictures.standalone_svg import to_give
from builder.pictures.version_diff import draw_changes

__all__ = [
    "draw",
    "draw_changes",
    "draw_open_edges",
    "photos",
    "photos_to_give",
    "qr_svg",
    "slow_note",
    "to_give",
]
