"""Freezings made by hand, for what is said of them."""

from dataclasses import replace

from pourwell.steps.freeze.model import Change, Freezing, PieceFreezing, Pool, Spell, SprueClock


def spell(value, low=None, high=None):
    return Spell(value_s=value, low_s=value if low is None else low, high_s=value if high is None else high)


def clock(place=1, piece="A", verdict="fed", *, sprue=9.4, section=8.1, void=(0.0, 0.0)):
    return SprueClock(
        place=place,
        piece=piece,
        sprue=spell(sprue, sprue * 0.7, sprue * 1.5),
        section=spell(section, section * 0.7, section * 1.5),
        section_at_mm=(1.0, 2.0, 3.0),
        void_low_mm3=void[0],
        void_high_mm3=void[1],
        verdict=verdict,
    )


def pool(number=1, place=2, verdict="cut off", **other):
    basis = Pool(
        number=number,
        place=place,
        where=f"piece {place}, {{l:19}} from its sprue",
        at_mm=(-26.0, 2.0, 26.0),
        neck_at_mm=(-14.0, 0.0, 34.0),
        neck_where="in the piece, {l:9} from its sprue",
        neck_mm=2.8,
        lost=spell(7.4, 4.0, 15.0),
        solid=spell(10.1, 6.5, 17.0),
        volume_mm3=338.0,
        liquid_mm3=137.0,
        void_low_mm3=1.0,
        void_high_mm3=3.4,
        verdict=verdict,
    )
    return replace(basis, **other)


def change(piece="B", *, helps=True, does="Take a sprue of {l:3.5} in place of {l:2.5}.", after=0.2):
    return Change(piece=piece, does=does, before_mm3=2.1, after_mm3=after, helps=helps)


def freezing(*clocks, pools=(), changes=(), **other):
    given = clocks or (clock(),)
    basis = Freezing(
        alloy="sterling-925",
        investment="gypsum-resin",
        flask="64x50",
        metal_c=970.0,
        flask_c=500.0,
        edge_mm=1.0,
        fine=False,
        curve="computed",
        curve_source="ag-au-cu",
        liquidus_c=896.0,
        solidus_c=779.0,
        curve_band_k=10.0,
        feeds_to_fraction=0.7,
        pieces=tuple(
            PieceFreezing(
                place=c.place, piece=c.piece, first_s=12.0, last=spell(24.0, 15.0, 44.0), last_at_mm=(0.0, 0.0, 30.0), local_s=20.0
            )
            for c in given
        ),
        clocks=tuple(given),
        pools=tuple(pools),
        changes=tuple(changes),
        button=spell(68.0, 53.0, 92.0),
        last=spell(68.0, 53.0, 92.0),
        last_at_mm=(0.0, 0.0, 10.0),
        dark=spell(485.0, 427.0, 654.0),
        outside_c=418.0,
        outside_high_c=436.0,
        cells_count=70334,
        metal_cells_count=9461,
        steps_count=94,
        ledger_fraction=2e-13,
        thinnest_cells_count=2.0,
        not_modelled=("filling", "gas"),
    )
    return replace(basis, **other)
