"""Published Gibbs energies as rows: what is read, what is handed on, what is refused."""

import numpy as np
import pytest
from pydantic import ValidationError

from pourwell.errors import UnknownNameError
from pourwell.materials.assessed import GibbsElement, GibbsPieces, gibbs_table
from pourwell.materials.library import load_library

LIBRARY = load_library()
BASE = {"source": "s", "grade": "handbook"}


def table(*symbols):
    return gibbs_table(LIBRARY.gibbs_elements, LIBRARY.gibbs_pairs, symbols)


def value(pieces, temperature):
    """A Gibbs energy written out in full, apart from the physics."""
    t = temperature
    basis = [1, t, t * np.log(t), t**2, t**3, 1 / t, t**7, t**-9]
    return next(float(np.dot(piece[1:], basis)) for piece in pieces if t <= piece[0])


def test_the_liquid_is_the_solid_and_what_it_lies_above_it():
    for symbol, fcc, liquid in zip(
        table("Ag", "Au", "Cu").symbols, table("Ag", "Au", "Cu").fcc, table("Ag", "Au", "Cu").liquid, strict=True
    ):
        over = LIBRARY.gibbs_elements[symbol].liquid_over_fcc.pieces
        for temperature in (500, 900, 1000, 1300, 1340, 1500, 1900):
            assert value(liquid, temperature) == pytest.approx(value(fcc, temperature) + value(over, temperature), rel=1e-12)


@pytest.mark.parametrize(("symbol", "melting"), [("Ag", 1234.93), ("Au", 1337.33), ("Cu", 1357.77)])
def test_liquid_and_solid_cross_at_the_melting_point(symbol, melting):
    """dinsdale-1991: the two functions meet there; 1 J/mol is 0.1 K."""
    rows = table(symbol)
    assert value(rows.liquid[0], melting) == pytest.approx(value(rows.fcc[0], melting), abs=0.6)


def test_the_upper_liquid_pieces_are_those_printed():
    """dinsdale-1991 prints liquid silver and copper above melting as functions of their own: -33.472 and -31.38 T ln T."""
    rows = table("Ag", "Cu")
    assert rows.liquid[0][-1, 1:4] == pytest.approx([-3587.111, 180.964656, -33.472], abs=1e-9)
    assert rows.liquid[1][-1, 1:4] == pytest.approx([-46.545, 173.881484, -31.38], abs=1e-9)
    assert abs(rows.liquid[0][-1, -1]) < 1e15


def test_pairs_are_numbered_by_the_metals_asked_for():
    rows = table("Ag", "Au", "Cu")
    assert rows.pairs.tolist() == [[0, 1, 0], [0, 2, 0], [0, 2, 1], *[[1, 2, k] for k in range(5)]]
    assert rows.liquid_terms[:, 0].tolist() == [-16402, 17323.40, 1654.38, -27900, 4730, 3500, 0, 0]
    assert rows.fcc_terms[3].tolist() == [-25053.125, 34.98, -4.695]
    assert table("Ag", "Cu").pairs.tolist() == [[0, 1, 0], [0, 1, 1]]


def test_masses_are_handed_on_in_kilograms():
    assert table("Ag", "Au", "Cu").molar_masses == pytest.approx([0.1078682, 0.196966569, 0.063546])


def test_sources_are_named_once_each():
    assert table("Ag", "Au", "Cu").sources == ("dinsdale-1991", "hassam-1988", "kattner-1999", "sundman-1998")
    assert table("Cu").sources == ("dinsdale-1991",)


@pytest.mark.parametrize(("symbols", "said"), [(("Ag", "Zn"), "assessed metal"), (("Cu", "Ag"), "assessed pair")])
def test_a_metal_or_pair_without_a_row_is_said(symbols, said):
    with pytest.raises(UnknownNameError, match=said):
        table(*symbols)


@pytest.mark.parametrize("pieces", [[], [[1000, 1, 2]], [[2000, *[0] * 8], [1000, *[0] * 8]]])
def test_pieces_that_are_not_whole_are_refused(pieces):
    with pytest.raises(ValidationError, match="pieces"):
        GibbsPieces.model_validate({**BASE, "pieces": pieces})


def test_an_element_without_its_liquid_is_refused():
    with pytest.raises(ValidationError, match="liquid_over_fcc"):
        GibbsElement.model_validate(
            {"molar_mass_g_per_mol": {"value": 1, "unit": "g/mol", **BASE}, "fcc": {**BASE, "pieces": [[1000, *[0] * 8]]}}
        )


def test_what_was_recalled_and_not_read_says_so():
    """The silver-gold pair was not seen in its paper again."""
    pair = LIBRARY.gibbs_pairs["Ag-Au"]
    assert (pair.liquid.grade, pair.fcc.grade) == ("memory", "memory")
    assert {p.liquid.grade for key, p in LIBRARY.gibbs_pairs.items() if key != "Ag-Au"} == {"handbook"}
