"""The files of a version by name: the frozen ones, and the zip for visitors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path, PurePosixPath

from builder import mesh
from builder.base import contained, limits
from builder.base.texts import Texts
from builder.model import MoldSpec, Reading, Solid, Version
from builder.release import formats, leaflet
from builder.spec import defaults, mold_file

Files = dict[str, bytes]


def own_files(mold: MoldSpec) -> Files:
    """The mold's own files, under its slug: mold.yaml, the STL files, the photos without their metadata."""
    names = ("mold.yaml", *(part.file for part in mold.parts))
    files = {f"{mold.slug}/{name}": contained.read(mold.folder, name, limits.STL_BYTES) for name in names}
    spec = f"{mold.slug}/{mold_file.FILE}"
    whole = defaults.whole(files[spec].decode("utf-8-sig"), mold.folder).encode()
    return {**files, spec: whole, **_photos(mold), **_sources(mold)}


def _sources(mold: MoldSpec) -> Files:
    names = mold.maker.sources
    return {f"{mold.slug}/{name}": contained.read(mold.folder, name, limits.SOURCE_BYTES) for name in names}


def _photos(mold: MoldSpec) -> Files:
    if not mold.photos:
        return {}
    from builder import pictures

    contents = (contained.read(mold.folder, name, limits.PHOTO_BYTES) for name in mold.photos)
    clean = pictures.photos_to_give(mold, contents)
    return {f"{mold.slug}/{name}": data for name, data in zip(mold.photos, clean, strict=True)}


def as_designed(mold: MoldSpec, contents: Sequence[bytes]) -> Files:
    """A 3MF for each STL file, in the same place and pose, in mm: its unit travels with it."""
    files: Files = {}
    for part, content in zip(mold.parts, contents, strict=True):
        if part.file.lower().endswith(".3mf"):
            continue
        solid, _ = mesh.read(content, part.file, part.units or mold.units)
        files[_with_ending(part.file, ".3mf")] = formats.threemf([solid], about(mold))
    return files


def to_print(mold: MoldSpec, reading: Reading) -> Files:
    """STL and 3MF of each printed part in its best printing pose, in mm."""
    files: Files = {}
    for measured, solid in zip(reading.measurement.parts, reading.geometry.parts, strict=True):
        if measured.role != "bait":
            flat: Solid = formats.laid_flat(solid, measured.print_turn_deg)
            files[_with_ending(measured.file, ".stl")] = formats.stl(flat)
            files[_with_ending(measured.file, ".3mf")] = formats.threemf([flat], about(mold))
    return files


def about(mold: MoldSpec) -> Mapping[str, str]:
    """The metadata of a 3MF."""
    return {"Title": mold.title, "Designer": mold.author, "LicenseTerms": mold.licence}


def zip_of(version: Version, files: Mapping[str, bytes], texts: Texts) -> bytes:
    """The zip that visitors take: the files with README, licence and checksums, in one folder."""
    told = {
        "README.txt": leaflet.readme(version, files, texts).encode(),
        "LICENCE.txt": leaflet.licence(version, texts).encode(),
        **files,
    }
    told["SHA256SUMS"] = formats.checksums(told)
    root = f"{version.slug}-{version.version}"
    return formats.zipped({f"{root}/{name}": told[name] for name in sorted(told)})


def under(folder: str, files: Mapping[str, bytes]) -> Files:
    """The files in a folder."""
    return {f"{folder}/{name}": data for name, data in files.items()}


def read_all(folder: Path) -> Files:
    """Every file of a folder on the disk, by its name there."""
    found = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


def write_all(files: Mapping[str, bytes], folder: Path) -> None:
    """Write the files into the folder."""
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)


def _with_ending(file: str, ending: str) -> str:
    return PurePosixPath(file).with_suffix(ending).as_posix()
