"""3MF is a zip, and a zip may hold anything: whatever its names, sizes and numbers, it is read or refused in a sentence."""

import struct
import warnings
import zipfile
from pathlib import Path
from xml.sax.saxutils import quoteattr

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwell.errors import BadFileError
from pourwell.files.patterns import PatternFile, read_pattern
from tests.unit.files.pattern_files import ONE, cube, mesh_xml, threemf, volume

LIMIT = 2_000
MODEL = "3D/3dmodel.model"
SPACE = 'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"'
PATHS = 'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06"'
HOSTILE = st.sampled_from(
    [
        "../outside.model",
        "/etc/outside.model",
        "C:\\outside.model",
        "..\\..\\outside.model",
        "3D/../../outside.model",
        "3D//3dmodel.model",
        "3D/3dmodel.model/",
        "",
        ".",
        "con",
        "\u202eledom.3dm",
        "\U0001f48d.model",
        "a" * 300,
        "_rels/.rels",
        "[Content_Types].xml",
    ]
)
NAMES = HOSTILE | st.text(st.characters(blacklist_categories=("Cs",), blacklist_characters="\0"), min_size=1, max_size=12)
NUMBERS = st.sampled_from(
    [
        "nan",
        "inf",
        "-inf",
        "1e308",
        "-1e308",
        "1e-320",
        "0x10",
        "1_0",
        "",
        " ",
        "+1",
        "1e",
        "½",
        "९",
        "2.5",
    ]
)
PACKED = st.sampled_from([zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
USUAL = st.sampled_from([zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
"""The ways of packing that 3MF knows; the damage of others is not tried here."""


def read_or_refuse(path: Path) -> PatternFile | None:
    """The file; or None where it was refused, which must be in a whole sentence, and without a trace beside the file."""
    before = sorted(path.parent.iterdir())
    try:
        file = read_pattern(path, limit_count=LIMIT)
    except BadFileError as error:
        if not (error.what and error.why and error.try_this):
            raise
        file = None
    assert sorted(path.parent.iterdir()) == before, "nothing is unpacked onto the disk"
    return file


def model_of(objects: str, build: str) -> str:
    """The XML of a model in millimetres."""
    head = f'<?xml version="1.0"?><model {SPACE} {PATHS} unit="millimeter">'
    return f"{head}<resources>{objects}</resources><build>{build}</build></model>"


def zipped(path: Path, members: list[tuple[str, str]], compression: int = zipfile.ZIP_DEFLATED) -> Path:
    """A zip of these members, names as they come, the same one twice if it comes twice."""
    with warnings.catch_warnings(), zipfile.ZipFile(path, "w", compression) as archive:
        warnings.simplefilter("ignore", UserWarning)  # that a name stands twice is what is tried
        for name, text in members:
            archive.writestr(zipfile.ZipInfo(name), text, compress_type=compression)
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that only the file under trial lies in."""
    return tmp_path_factory.mktemp("zips") / "inner"


@given(others=st.lists(st.tuples(NAMES, st.text(max_size=20)), max_size=4), compression=PACKED)
def test_members_of_any_name_beside_the_model_do_not_matter(folder, others, compression):
    folder.mkdir(exist_ok=True)
    kept = [(name, text) for name, text in others if not name.startswith(("_rels", "3D/3dmodel"))]
    path = zipped(folder / "piece.3mf", [*kept, (MODEL, model_of(ONE, '<item objectid="1"/>'))], compression)
    file = read_or_refuse(path)
    assert file is not None
    assert volume(file) == pytest.approx(64)
    assert [body.name for body in file.bodies] == ["block"]


@given(target=NAMES)
def test_a_relation_may_point_anywhere_and_nothing_outside_the_zip_is_opened(folder, target):
    folder.mkdir(exist_ok=True)
    (folder.parent / "outside.model").write_text(model_of(ONE, '<item objectid="1"/>'), encoding="utf-8")
    kind = 'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"'
    relations = f"<Relationships><Relationship Target={quoteattr(target)} Id='r' {kind}/></Relationships>"
    zipped(folder / "piece.3mf", [("_rels/.rels", relations)])
    assert read_or_refuse(folder / "piece.3mf") is None, "the zip holds no model"


@given(path=NAMES, number=st.sampled_from(["1", "2", "", "-1", "one"]))
def test_a_component_may_name_any_model(folder, path, number):
    folder.mkdir(exist_ok=True)
    component = f"<component objectid={quoteattr(number)} p:path={quoteattr('/' + path)}/>"
    objects = f'{ONE}<object id="2"><components>{component}</components></object>'
    zipped(folder / "piece.3mf", [(MODEL, model_of(objects, '<item objectid="2"/>'))])
    file = read_or_refuse(folder / "piece.3mf")
    assert file is None or volume(file) == pytest.approx(64)


@settings(max_examples=80)
@given(
    where=st.sampled_from(["x", "y", "z", "v1", "v2", "v3", "transform", "objectid"]),
    number=NUMBERS | st.integers(-(2**62), 2**62).map(str) | st.floats().map(repr),
)
def test_any_number_anywhere_in_a_model_is_read_or_refused(folder, where, number):
    folder.mkdir(exist_ok=True)
    mesh, item = mesh_xml(cube(4)), '<item objectid="1"/>'
    if where in ("x", "y", "z", "v1", "v2", "v3"):
        mesh = mesh.replace(f'{where}="0"', f"{where}={quoteattr(number)}", 1)
    elif where == "transform":
        item = f'<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 {number}"/>'
    else:
        item = f"<item objectid={quoteattr(number)}/>"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # numpy's word on an overflow, which the reader then refuses
        file = read_or_refuse(threemf(folder / "piece.3mf", f'<object id="1">{mesh}</object>', item))
    if file is not None:
        assert abs(volume(file)) < 1e27


@settings(max_examples=160)
@given(
    compression=USUAL,
    changes=st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=4),
)
def test_a_zip_with_bytes_changed_before_its_directory_is_read_or_refused(folder, compression, changes):
    folder.mkdir(exist_ok=True)
    path = zipped(folder / "piece.3mf", [(MODEL, model_of(ONE, '<item objectid="1"/>'))], compression)
    content = bytearray(path.read_bytes())
    directory = content.rindex(b"PK\x01\x02")
    for at, byte in changes:
        content[int(at * directory)] = byte
    path.write_bytes(content)
    read_or_refuse(path)


@given(claimed=st.integers(0, 2**32 - 1))
def test_a_size_that_the_zip_only_claims_is_no_reason_to_crash(folder, claimed):
    folder.mkdir(exist_ok=True)
    path = zipped(folder / "piece.3mf", [(MODEL, model_of(ONE, '<item objectid="1"/>'))])
    content = bytearray(path.read_bytes())
    entry = content.rindex(b"PK\x01\x02")
    content[entry + 24 : entry + 28] = struct.pack("<I", claimed)
    path.write_bytes(content)
    read_or_refuse(path)


@given(depth=st.integers(2, 1500))
@settings(max_examples=10)
def test_components_within_components_are_read_or_refused_however_deep(folder, depth):
    folder.mkdir(exist_ok=True)
    nested = "".join(
        f'<object id="{k}"><components><component objectid="{k - 1}"/></components></object>' for k in range(2, depth + 1)
    )
    file = read_or_refuse(zipped(folder / "piece.3mf", [(MODEL, model_of(ONE + nested, f'<item objectid="{depth}"/>'))]))
    assert file is None or volume(file) == pytest.approx(64)
