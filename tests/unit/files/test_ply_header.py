"""The head of a PLY file, line by line: how long it is, what it names, and what is refused with the line that makes no sense."""

import pytest

from pourwell.errors import BadFileError
from pourwell.files.pattern_ply import TYPES, read_header

LINES = (
    "ply",
    "format binary_little_endian 1.0",
    "comment made at the bench",
    "obj_info two bands",
    "element vertex 8",
    "property float x",
    "property float32 y",
    "property double z",
    "element face 12",
    "property list uchar int vertex_indices",
    "end_header",
)


def head(*lines, end="\n"):
    return (end.join(lines) + end).encode("ascii")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_elements_and_properties_are_read_and_the_data_begins_behind_the_last_line(end):
    text = head(*LINES, end=end)
    found = read_header(text + b"\n\r\x00data", "band.ply")
    assert found.length == len(text)
    assert found.order == "<"
    assert [(one.name, one.count) for one in found.elements] == [("vertex", 8), ("face", 12)]
    assert [(one.name, one.kind, one.count_type) for one in found.elements[0].properties] == [
        ("x", "f4", ""),
        ("y", "f4", ""),
        ("z", "f8", ""),
    ]
    (corners,) = found.elements[1].properties
    assert (corners.name, corners.kind, corners.count_type) == ("vertex_indices", "i4", "u1")


@pytest.mark.parametrize(("form", "order"), [("ascii", ""), ("binary_little_endian", "<"), ("binary_big_endian", ">")])
def test_the_format_is_the_order_of_bytes(form, order):
    assert read_header(head("ply", f"format {form} 1.0", "end_header"), "x.ply").order == order


def test_elements_of_one_name_are_counted_together_and_what_is_not_there_is_none():
    found = read_header(head("ply", "format ascii 1.0", "element face 3", "element face 4", "end_header"), "x.ply")
    assert found.count("face") == 7
    assert found.count("vertex") == 0


def test_every_type_has_the_width_that_its_name_says():
    """The names with a number carry their bits; the older ones are those of C on the machines of their time."""
    for name, kind in TYPES.items():
        bits = "".join(letter for letter in name if letter.isdigit())
        if bits:
            assert int(kind[1]) * 8 == int(bits), name
            assert (kind[0] == "u") is name.startswith("u"), name
    assert {TYPES[old] == TYPES[new] for old, new in (("char", "int8"), ("ushort", "uint16"), ("double", "float64"))} == {True}


@pytest.mark.parametrize(
    "line",
    [
        "element vertex minus",
        "element vertex -3",
        "element vertex",
        "property half x",
        "property list uchar triple corners",
        "format ascii",
        "format gzip 1.0",
        "whatever this is",
    ],
)
def test_a_line_that_makes_no_sense_is_shown(line):
    lines = ("ply", "format ascii 1.0", "element vertex 3", line, "end_header")
    with pytest.raises(BadFileError, match="makes no sense") as refused:
        read_header(head(*lines), "band.ply")
    assert refused.value.why == f'It says "{line}".'


def test_a_property_before_any_element_is_refused():
    with pytest.raises(BadFileError, match="makes no sense"):
        read_header(head("ply", "format ascii 1.0", "property float x", "end_header"), "band.ply")


def test_a_head_without_format_is_refused():
    with pytest.raises(BadFileError) as refused:
        read_header(head("ply", "element vertex 3", "end_header"), "band.ply")
    assert refused.value.why == "It does not say its format."


@pytest.mark.parametrize("text", [head(*LINES[:-1]), head(*LINES)[:-1], b"ply\n"])
def test_a_head_without_its_end_is_cut_short(text):
    with pytest.raises(BadFileError, match=r"band\.ply is cut short"):
        read_header(text, "band.ply")
