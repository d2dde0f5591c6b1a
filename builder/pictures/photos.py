"""The maker's photos for the page: upright, in several widths, without metadata."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from PIL import Image, ImageCms, ImageOps

from builder.base import figures, limits
from builder.base.problems import Faults, Problem, Where
from builder.model import MoldSpec, Picture
from builder.pictures import files
from builder.pictures.views.plain import alt

WIDTHS = (480, 800, 1600)
FORMATS = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG", ".webp": "WEBP"}
_HEIC = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
"""Brands of the container (ISO/IEC 23008-12, annex B), from memory."""
TALLEST = 4800
"""Pixels of the longer side; WebP has room for 16383."""


class HeicError(ValueError):
    """A photo as many phones take it (ISO/IEC 23008-12)."""


def photos(spec: MoldSpec, contents: Iterable[bytes], folder: Path) -> tuple[Picture, ...]:
    """The spec's photos, given as bytes, written anew into the folder; Faults for all that are no picture.

    Only pixels pass: place, time, camera, thumbnail and colour profile (after conversion) stay behind.
    """
    made = []
    for number, image in enumerate(_opened(spec, contents), start=1):
        written = files.save(image, folder, f"photo-{number}", WIDTHS)
        told = alt("photo", {"number": figures.count(number)})
        made.append(
            Picture(
                name=f"photo-{number}",
                files=written,
                width_px=image.width,
                height_px=image.height,
                alt=told,
            )
        )
    return tuple(made)


def photos_to_give(spec: MoldSpec, contents: Iterable[bytes]) -> list[bytes]:
    """The same photos as files to hand on, each in the format of its name; nothing but pixels passes."""
    given = []
    for name, image in zip(spec.photos, _opened(spec, contents), strict=True):
        kind = FORMATS[PurePosixPath(name).suffix.lower()]
        data = io.BytesIO()
        (image.convert("RGB") if kind == "JPEG" else image).save(data, kind, quality=90)
        given.append(data.getvalue())
    return given


def _opened(spec: MoldSpec, contents: Iterable[bytes]) -> list[Image.Image]:
    """The photos upright; Faults for all that are no picture."""
    made, problems = [], []
    for name, content in zip(spec.photos, contents, strict=True):
        try:
            made.append(upright(content))
        except MemoryError:
            raise
        except Exception as error:  # noqa: BLE001 - a broken file makes the decoders raise anything
            problems.append(_problem(spec, name, error))
    if problems:
        raise Faults(problems)
    return made


def upright(data: bytes) -> Image.Image:
    """The pixels as the camera was held, in sRGB, no wider than needed; nothing else of the file.

    Raises OSError or ValueError for what is no picture, DecompressionBombError for what is far too large.
    """
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC:
        raise HeicError
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of a damaged tag the decoders speak to who wrote the program
        with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as opened:
            if opened.width * opened.height > limits.PHOTO_PIXELS:
                raise ValueError(f"it has {opened.width * opened.height} pixels")
            opened.draft("RGB", (2 * TALLEST, 2 * TALLEST))  # a JPEG is decoded no larger than it is used
            image = _turned(_fitted(_in_srgb(opened)))
    image = _fitted(image, WIDTHS[-1])
    return Image.frombytes(image.mode, image.size, image.tobytes())


def _fitted(image: Image.Image, widest: int = TALLEST) -> Image.Image:
    """The image no wider than told, and no higher than a page can use; its orientation tag is kept."""
    share = min(1.0, widest / image.width, TALLEST / image.height)
    if share == 1.0:
        return image
    size = (max(1, round(image.width * share)), max(1, round(image.height * share)))
    small = image.resize(size, Image.Resampling.LANCZOS)
    small.info["exif"] = image.info.get("exif", b"")
    return small


def _turned(image: Image.Image) -> Image.Image:
    """As the camera was held; as it lies where the orientation cannot be read."""
    try:
        return ImageOps.exif_transpose(image)
    except Exception:  # noqa: BLE001 - a damaged tag is no reason to refuse the pixels
        return image


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
    where = Where(file=f"{spec.slug}/mold.yaml", line=spec.line_of.get(key), key=key)
    if isinstance(error, HeicError):
        what = f"{name} is a HEIC photo, whatever it is called, and few browsers show one"
        remedy = "save or share it as JPEG (on an iPhone: Settings, Camera, Formats, Most Compatible)"
        return Problem(where=where, what=what, expected="a JPEG, PNG or WebP picture", remedy=remedy)
    why = "".join(char for char in str(error).partition("<")[0][:80] if char.isprintable()).strip()
    return Problem(
        where=where,
        what=f"{name} is not a photo that can be read ({why or type(error).__name__})",
        expected=f"a JPEG, PNG or WebP picture of at most {limits.PHOTO_PIXELS} pixels",
        remedy="export it again as JPEG",
    )
