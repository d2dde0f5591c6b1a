"""Photos by the maker: turned upright, in several widths, without a trace of where and with what."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

from PIL import Image, ImageCms, ImageOps

from builder.base import figures
from builder.base.problems import Faults, Problem, Where
from builder.model import MoldSpec, Picture
from builder.pictures import files
from builder.pictures.views.plain import alt

WIDTHS = (480, 800, 1600)
MOST_PIXELS = 120_000_000


def photos(spec: MoldSpec, folder: Path) -> tuple[Picture, ...]:
    """The spec's photos, written anew into the folder; Faults for all files that are no picture.

    Only pixels pass: place, time, camera, thumbnail and colour profile (after conversion) stay behind.
    """
    made, problems = [], []
    for number, name in enumerate(spec.photos, start=1):
        try:
            image = upright((spec.folder / name).read_bytes())
        except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
            problems.append(_problem(spec, name, error))
            continue
        written = files.save(image, folder, f"photo-{number}", WIDTHS)
        told = alt("photo", {"title": spec.title, "number": figures.count(number)})
        made.append(
            Picture(
                name=f"photo-{number}",
                files=written,
                width_px=image.width,
                height_px=image.height,
                alt=told,
            )
        )
    if problems:
        raise Faults(problems)
    return tuple(made)


def upright(data: bytes) -> Image.Image:
    """The pixels as the camera was held, in sRGB, no wider than needed; nothing else of the file.

    Raises OSError or ValueError for what is no picture, DecompressionBombError for what is far too large.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)
        with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise ValueError(f"it has {opened.width} x {opened.height} pixels")
            image = ImageOps.exif_transpose(_in_srgb(opened))
    if image.width > WIDTHS[-1]:
        height = round(image.height * WIDTHS[-1] / image.width)
        image = image.resize((WIDTHS[-1], height), Image.Resampling.LANCZOS)
    return Image.frombytes(image.mode, image.size, image.tobytes())


def _in_srgb(opened: Image.Image) -> Image.Image:
    """As RGB in sRGB; a profile that cannot be read counts as sRGB. Keeps the orientation tag."""
    profile = opened.info.get("icc_profile")
    plain = opened.convert(
        "RGBA" if "transparency" in opened.info or opened.mode in ("RGBA", "LA") else "RGB"
    )
    plain.info["exif"] = opened.info.get("exif", b"")
    if not profile or plain.mode != "RGB":
        return plain
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        changed = ImageCms.profileToProfile(opened, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except ImageCms.PyCMSError:
        return plain
    if changed is None:
        return plain
    changed.info["exif"] = plain.info["exif"]
    return changed


def _problem(spec: MoldSpec, name: str, error: Exception) -> Problem:
    key = "photos"
    return Problem(
        where=Where(file=f"{spec.slug}/mold.yaml", line=spec.line_of.get(key), key=key),
        what=f"{name} is no photo that can be read ({error})",
        expected="a JPEG, PNG or WebP picture of at most 120 million pixels",
        remedy="export it again as JPEG",
    )
