"""Pictures of a mold: ray-cast views, drawings over them, data for turning the mold in the browser.

picture_set     the whole set of a mold          social        one picture for links
photos          the maker's own, without metadata
open_edges      where a mesh is open             version_diff  what a version changed
viewer_data     data for turning the mold        standalone_svg  pictures to give away, with their words
files           pixels to image files
views/shapes    a mold's shapes, made ready once
views/plain     what each picture shows          views/annotated  the views that carry words
views/callouts  lines and words over a picture   views/cuts    cuts square to the flow
views/symbols   bolts, axes, the ground, cuts
render/camera   where a point lies in a picture  render/palette  the one table of colours
render/scene    bodies, paints, smooth normals   render/rays   which triangle a ray meets
render/light    sky and lamp over a scene        render/shading  a scene as pixels
"""

from builder.pictures.open_edges import draw_open_edges
from builder.pictures.photos import photos, photos_to_give
from builder.pictures.picture_set import draw
from builder.pictures.render.rays import slow_note
from builder.pictures.social import write_card
from builder.pictures.standalone_svg import to_give
from builder.pictures.version_diff import draw_changes

__all__ = [
    "draw",
    "draw_changes",
    "draw_open_edges",
    "photos",
    "photos_to_give",
    "slow_note",
    "to_give",
    "write_card",
]
