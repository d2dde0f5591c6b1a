"""Molds of other trades as their makers published them: where they are, what a maker would tell, the truth.

None of the files is kept here. `answers` are what is pasted in turn when the reading asks: a line of
mold.yaml, or the number of the offered line that is taken. The truth is measured without the reading: by
columns between the files' facets, laid by hand (`places`: turns about x, y, z in degrees, then moves in mm),
or it is the volume of the maker's own drawing of what comes out.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.public_molds.columns import Bounds

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class File:
    """A published file: its path in the repository, `archive.zip#member` in an archive, and its SHA-256."""

    path: str
    sha256: str
    role: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """The volume without the reading: by columns round a seed, or of the maker's own drawing."""

    places: tuple[tuple[Point, Point], ...] = ()
    bounds: Bounds | None = None
    hull: bool = False
    """The open ends are closed as the parts' hull closes them."""
    plugs: tuple[tuple[Point, Point], ...] = ()
    """Boxes (low, high corner) that fill holes at which the part ends."""
    seed: Point = (0.0, 0.0, 0.0)
    pitch_mm: float = 0.1
    drawing: File | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Public:
    """A mold, as its maker filed it."""

    kind: str
    repository: str
    commit: str
    files: tuple[File, ...]
    truth: Truth | None = None
    cavities: int = 1
    pour: str = "injection"
    answers: tuple[str | int, ...] = ()


_GRIPPER = "Athenachc/sav_gripper", "69b07be35475db32624e303467ae4e5ee93ac419"
_HAND = "Open-Bionics/Brunel", "4972af7275a478e10249dba4a19dd765c12bf8ee"
_FLASK = "HMGrunthos/VacuumFlaskGasketMould", "db98a7c5460df7221e544f0fca134525357c2fed"
_OLD = "fabrication/soft_gripper_without_tpu/Moulds_gripper_without_tpu.zip#Moulds_gripper_without_tpu"
_NEW = "fabrication/soft_gripper_with_tpu/Moulds_gripper_tpu.zip#Moulds_gripper_tpu"
_TAIL = "CAD/silicone_tail_molding"
_THUMB = "STLs/BrunelRightThumb/BrunelRightThumb_MOULD_Inner"
_PLUG = "pirate-models/original-pirate-extensions/molds/pirate_form"
_OVER = (-90.0, 0.0, 180.0)

MOLDS = (
    Public(
        kind="finger cover",
        repository=_GRIPPER[0],
        commit=_GRIPPER[1],
        files=(
            File(
                path=f"{_OLD}/cover/finger_v6_cover_a.STL",
                sha256="e848003b598848883221d9aba76f10a806e3299a42e883f02d1b9a7d4900193e",
            ),
            File(
                path=f"{_OLD}/cover/finger_v6_cover_b.STL",
                sha256="69f9e3de13b522824b42b892cbce2c7167335d4b51b314fee35bab7301b58463",
            ),
        ),
        truth=Truth(
            places=((_OVER, (18.0, 13.25, 0.0)), (_OVER, (18.0, 13.25, 5.0))),
            bounds=Bounds(low=(-12.0, -12.0, 0.0), high=(12.0, 12.0, 4.9)),
            seed=(0.0, 0.0, 1.0),
        ),
        answers=("units: mm", 1),
    ),
    Public(
        kind="wider finger cover",
        repository=_GRIPPER[0],
        commit=_GRIPPER[1],
        files=(
            File(
                path=f"{_NEW}/cover/finger_v9_cover_a.STL",
                sha256="ba8c81db4a39ac44dbcc5f02803f1115a45b074087ccb387f8e6678169922251",
            ),
            File(
                path=f"{_NEW}/cover/finger_v9_cover_b.STL",
                sha256="3ce691b430154b3b5545008ec272dd9bec86bdec5f7d7c8b05e88225bb6e2b11",
            ),
        ),
        truth=Truth(
            places=((_OVER, (20.0, 14.0, 0.0)), (_OVER, (20.0, 14.0, 5.0))),
            bounds=Bounds(low=(-13.0, -13.0, 0.0), high=(13.0, 13.0, 4.9)),
            seed=(0.0, 0.0, 1.0),
        ),
    ),
    Public(
        kind="finger back",
        repository=_GRIPPER[0],
        commit=_GRIPPER[1],
        files=(
            File(
                path=f"{_NEW}/back/finger_v9_back_a.STL",
                sha256="aa6f641755bf745ff5918677c9f7a61a583a46d034c13c06c5ef233bd425dc07",
            ),
            File(
                path=f"{_NEW}/back/finger_v9_back_b.STL",
                sha256="cae10cc50d7ac1f70cda2ae4841f3add92705de65eaf4b02306c58a8adb69dce",
            ),
        ),
        truth=Truth(
            places=(((0.0, 0.0, -90.0), (-46.0, 20.0, -15.0)), ((180.0, 0.0, 90.0), (-46.0, -20.0, 10.0))),
            bounds=Bounds(low=(-45.0, -16.0, 0.0), high=(45.0, 16.0, 4.9)),
            seed=(0.0, 0.0, 1.0),
            pitch_mm=0.2,
        ),
    ),
    Public(
        kind="thumb",
        repository=_HAND[0],
        commit=_HAND[1],
        files=(
            File(
                path=f"{_THUMB}_dorsal.stl",
                sha256="45f27809fdaff0dbb85480ef71b8316c2df467084614c66cc3da53393e640ffa",
            ),
            File(
                path=f"{_THUMB}_palmar.stl",
                sha256="1edb1fa9320f8e631fc26aebd9ff1bae57b5eeeb1feb110fec3cd5c11d546b87",
            ),
        ),
        truth=Truth(
            places=(
                ((180.0, 0.0, 89.355), (-8.1581, 6.8597, 0.5)),
                ((180.0, 0.0, 89.355), (-8.1581, 6.8597, 0.5)),
            ),
            bounds=Bounds(
                low=(-40.0, -25.0, -18.0),
                high=(40.0, 25.0, 18.0),
                cuts=(((-39.45, -1.17, 4.17), (-1.0, 0.011, 0.0)),),
            ),
            plugs=(((-21.0, 11.95, -3.5), (-15.0, 24.0, 4.0)), ((19.6, 10.0, -6.0), (41.0, 20.0, 6.0))),
            pitch_mm=0.25,
        ),
        answers=(0, 0),
    ),
    Public(
        kind="bent thumb",
        repository=_HAND[0],
        commit=_HAND[1],
        files=(
            File(
                path=f"{_THUMB}_dorsal_2.stl",
                sha256="ac8dcb1c7d9622fba40b7fb533a7fddf99144f6406c6b9f78ba76b85e53b4179",
            ),
            File(
                path=f"{_THUMB}_palmar_2.stl",
                sha256="3a1b7e0af527f7f17b0b09a4c22229523736846afe127b9bbfae797bc8648fe0",
            ),
        ),
        truth=Truth(
            places=(
                ((180.0, 0.0, 68.026), (-4.8012, -4.6752, 0.5)),
                ((180.0, 0.0, 68.026), (-4.8012, -4.6752, 0.5)),
            ),
            bounds=Bounds(
                low=(-46.0, -24.0, -18.0),
                high=(46.0, 24.0, 18.0),
                cuts=(((-36.87, -0.76, 4.17), (-0.927, 0.374, 0.0)),),
            ),
            plugs=(((-13.2, 3.3, -3.5), (-4.5, 20.0, 4.0)), ((22.6, 4.9, -6.0), (46.0, 24.0, 6.0))),
            pitch_mm=0.25,
        ),
        answers=(0, 0),
    ),
    Public(
        kind="tail",
        repository="luyangzhao/Tensegrity-Dolphin-Robot",
        commit="1f396d97540fef50634b158e435d44a8aec34f5a",
        files=(
            File(
                path=f"{_TAIL}/Mold Outer A.stl",
                sha256="832a596926ec081738541d2b3a70f4fd8bb23641ee3f7db49e63f4f68d2223d4",
            ),
            File(
                path=f"{_TAIL}/Mold Outer B.stl",
                sha256="bf46b13c8bfd6bf7bb0b36e026781c9dd49418fdcffd6c9d5a5ce01020ae7a3b",
            ),
            File(
                path=f"{_TAIL}/Mold Inner.stl",
                sha256="5f9368305a3ad743fccc4f438bc39c444c5455d97c8736b5521af8f884ea9ca1",
                role="core",
            ),
        ),
        truth=Truth(
            drawing=File(
                path=f"{_TAIL}/silicone tail final shape (no need to print).stl",
                sha256="deb3421e4e30bc035107a500fdb107abbf37ad2692bfe3e58345d5d16e35c0da",
            )
        ),
        answers=(2, 0),
    ),
    Public(
        kind="hydrophone",
        repository="ucnl/diy.github.io",
        commit="d37c026f7eb4c7c81f1bafa0cbbe4f4b324afc39",
        files=(
            File(
                path="projects/disk_hydrophone/mold_left.stl",
                sha256="39355f8f97f7134d3b8e42ad2160ec54535ff8cd4b9509f0e48603bd5e234175",
            ),
            File(
                path="projects/disk_hydrophone/mold_right.stl",
                sha256="ff9b3f0fcff9ea3119d010b5bcaa4b7b2a49c223507cc0b3a4b26ef8e02ef5ff",
            ),
        ),
        truth=Truth(
            places=(((0.0, 0.0, 90.0), (2.5, -5.5, 0.0)), ((0.0, 0.0, 90.0), (2.5, -5.5, 0.0))),
            bounds=Bounds(low=(-42.0, -37.0, -7.9), high=(42.0, 37.0, 7.9)),
            plugs=(
                ((30.0, -10.0, -5.0), (36.0, 0.0, 5.0)),
                ((-36.0, -8.5, -5.0), (-30.0, -2.5, 5.0)),
                ((-28.0, 1.5, -6.0), (-24.1, 6.0, 6.0)),
                ((-28.0, -17.0, -6.0), (-24.1, -12.5, 6.0)),
            ),
            seed=(2.5, -5.5, 0.0),
        ),
        answers=(
            "hints: {gates: [{at_mm: [30, -5.5, 0], normal: [-1, 0, 0]},"
            " {at_mm: [-30, -5.5, 0], normal: [1, 0, 0]},"
            " {at_mm: [-24.1, 2.79, 0], normal: [0.788, -0.615, 0]},"
            " {at_mm: [-24.1, -13.79, 0], normal: [0.788, 0.615, 0]}]}",
        ),
    ),
    Public(
        kind="stopper",
        repository=_FLASK[0],
        commit=_FLASK[1],
        pour="open pour",
        files=(
            File(
                path="Stopper.stl",
                sha256="8fcac74f9ca148acd75aced5230916d5f887aadcf4275f2ff5421713f2df81ef",
                role="open",
            ),
            File(
                path="Stopper-Inner.stl",
                sha256="415abca7972325cba5163ae29b5c256eac5ccac3256706c102cfdac7d5aa5632",
                role="core",
            ),
        ),
        truth=Truth(
            bounds=Bounds(low=(-60.0, -60.0, 0.5), high=(60.0, 60.0, 40.0)),
            seed=(0.0, 0.0, 30.0),
            pitch_mm=0.25,
        ),
    ),
    Public(
        kind="wide stopper",
        repository=_FLASK[0],
        commit=_FLASK[1],
        pour="open pour",
        files=(
            File(
                path="Stopper-thin-large.stl",
                sha256="f91902a56ae757cac67b855acdeec42f840db56ef88e4d7c85c1317ddaa98719",
                role="open",
            ),
            File(
                path="Stopper-Inner-thin-large.stl",
                sha256="cc1cedaa4ac7766399b07cd76c01fb59124fdff43c818d3125cc60939ddb2376",
                role="core",
            ),
        ),
        truth=Truth(
            bounds=Bounds(low=(-70.0, -70.0, 0.5), high=(70.0, 70.0, 42.5)),
            seed=(0.0, 0.0, 30.0),
            pitch_mm=0.25,
        ),
    ),
    Public(
        kind="tyre",
        repository="samir-souza/minibots",
        commit="45b1f2fc6921943a7f7e10c4012f093a81801baa",
        files=(
            File(
                path="01_3DModels/stl/32_TyreModePartA.stl",
                sha256="6a25e48fa256566b640f4d63b2c1b0fb72b88b8318b4416aad4291f3e5e1800f",
            ),
            File(
                path="01_3DModels/stl/33_TyreModldPartB.stl",
                sha256="bd02283bb0491e09d5833b3437070bce9aca4cc71cfaacd72ead9b42515e6ef0",
            ),
        ),
    ),
    Public(
        kind="ear plugs",
        repository="animegolem/pirate-extensions-extended",
        commit="d4499d48f4631be4c7ab271699bfbdbbad3eb557",
        cavities=10,
        files=(
            File(
                path=f"{_PLUG}_bottom.stl",
                sha256="f9b137d4dfbc4492ad07d71a75b0fba0cab05613171271a30b4b0519501a59be",
            ),
            File(
                path=f"{_PLUG}_top_mems.stl",
                sha256="a691773bf70d034b72a3f04149d17546a338e79da2c6aacb0c66526e9f1b92b2",
            ),
            File(
                path=f"{_PLUG}_middle.stl",
                sha256="2ea03159f5f41d58659902153e4e626bff4979ceb93e87f60a7ba49f1cb977e9",
                role="core",
            ),
        ),
    ),
    Public(
        kind="crystal",
        repository="iljapanic/mdef",
        commit="41e276ccdf40c700917c1c1b5c7fcedc3559b3c9",
        files=(
            File(
                path="static/rhino/crystal-mold-v3-full.stl",
                sha256="66d9db7d1b2bdfebf6fca466ef76c398376440991b434046d22020c23d77ee95",
            ),
        ),
    ),
    Public(
        kind="sleeve",
        repository="pulp-bio/wulpus",
        commit="48a913c9c20c5220b92e19e274565a9e9881cee6",
        files=(
            File(
                path="hw/wulpus_silicone_package/wulpus_outside_mold_fdm.stl",
                sha256="a30268c0441de7a943ded65275b7fb44576e48a659fe0bef9b0e688f1a34942c",
            ),
            File(
                path="hw/wulpus_silicone_package/wulpus_inside_mold_fdm.stl",
                sha256="96c9b1083046e07977bb0c1eeb200ed6877dfedb1780fe4ac8668345c87d710a",
            ),
        ),
    ),
    Public(
        kind="finger body",
        repository=_GRIPPER[0],
        commit=_GRIPPER[1],
        files=(
            File(
                path=f"{_NEW}/main_body/finger_v9_main_body_a.STL",
                sha256="59cbf3f10213554d56bc84147b01226efb374e128beaa2f6e8aac67d4c512dd5",
            ),
            File(
                path=f"{_NEW}/main_body/finger_v9_main_body_c.STL",
                sha256="d8ba0dc4b1e7b6ebceae30aaf10e994fe5a9554a5340eda3ec1eaee2df82bd71",
            ),
            File(
                path=f"{_NEW}/main_body/finger_v9_main_body_b.STL",
                sha256="f38e50630dcb8a9210f556842ea1d5e9a270c37967c11b8caa3620485574e897",
                role="core",
            ),
        ),
    ),
)
