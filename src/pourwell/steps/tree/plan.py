"""The tree: places for sprues, tiers in the room of a flask, volumes and masses; or what follows from a weight alone."""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

import numpy as np

from pourwell.geometry.joints import cap_volume_mm3
from pourwell.geometry.kernels.compiled import thread_count
from pourwell.geometry.mesh import Mesh
from pourwell.materials.library import Library
from pourwell.materials.model import Alloy, PatternMaterial
from pourwell.steps.pattern.model import Pattern
from pourwell.steps.tree.arrange import Layout, Search
from pourwell.steps.tree.attach import Sited, point_of, site, site_of_user
from pourwell.steps.tree.build import Exact, Solids, cast, drawn, farthest, named, place, solids
from pourwell.steps.tree.checks import Facts
from pourwell.steps.tree.hang import Hanger, Neighbours, hanger
from pourwell.steps.tree.model import Button, Clearances, Place, Room, Stem, Tier, Tree, WeighedTree
from pourwell.steps.tree.neck import Cut, cut_off, proposal
from pourwell.steps.tree.probe import ready
from pourwell.units import cm3_from_mm3, mm3_from_cm3

SPRUE_WAX: Final = "wax-sprue"
"""Id of the wax that stem and sprues are made of."""

MARGINS_MM: Final = (0.15, 0.3, 0.6)
"""The search keeps so much more than the limit, since it sees samples; more, where the exact gap then turned out too small."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoRoom:
    """There is no tree of these pieces in this room."""

    placed_count: int
    """How many of them find place."""
    why: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grown:
    """A tree with its bodies by name, and what its checks look at."""

    tree: Tree
    bodies: tuple[tuple[str, Mesh], ...]
    cast: Mesh
    """All of them as one closed solid."""
    facts: Facts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """Pieces with their sprues' places, for any room and any count."""

    hangers: Mapping[str, Hanger]
    """By the piece's id."""
    ours: Mapping[str, Sited]
    """By the piece's id: the place chosen by shape, where the user has an own one."""
    cuts: tuple[Cut, ...]
    neighbours: Neighbours


def prepare(patterns: Sequence[Pattern], library: Library) -> Prepared:
    """Choose the place and the gauge of every sprue. Do it once where several flasks are tried.

    Raises NotSolidError (a ValueError) for a mesh that is no closed solid.
    """

    def one(number: int, pattern: Pattern) -> tuple[Hanger, Sited, Cut | None]:
        piece = ready(pattern)
        sited = ours = site(piece, library)
        if pattern.sprue_at_mm is not None:
            sited = site_of_user(piece, pattern.sprue_at_mm, ours=ours, library=library)
        hung = hanger(number, piece, sited)
        hung.sample()
        return hung, ours, cut_off(piece, sited, library)

    with ThreadPoolExecutor(thread_count()) as threads:
        made = dict(zip((p.piece.id for p in patterns), threads.map(one, range(len(patterns)), patterns), strict=True))
    hangers = {key: hung for key, (hung, _, _) in made.items()}
    return Prepared(
        hangers=hangers,
        ours={p.piece.id: made[p.piece.id][1] for p in patterns if p.sprue_at_mm is not None},
        cuts=tuple(cut for _, _, cut in made.values() if cut is not None),
        neighbours=Neighbours(tuple(hangers.values()), library=library),
    )


def grow(
    patterns: Sequence[Pattern],
    *,
    room: Room,
    alloy: Alloy,
    pattern_material: PatternMaterial,
    library: Library,
    prepared: Prepared | None = None,
) -> Grown | NoRoom:
    """Grow a tree of all pieces, each as often as its count says, in the room of a flask.

    Parameters
    ----------
    patterns : with their counts
    room : what the flask offers
    alloy, pattern_material : what the tree is cast in, what the pieces are printed in; stem and sprues are of sprue wax
    prepared : the same patterns prepared before, whatever their counts were

    Raises
    ------
    NotSolidError (a ValueError) for a mesh that is no closed solid.
    """
    known = prepared or prepare(patterns, library)
    hangers = tuple(known.hangers.values())
    counts = {pattern.piece.id: pattern.piece.count for pattern in patterns}
    many = [counts.get(key, 0) for key in known.hangers]
    search = Search(hangers, many, room=room, neighbours=known.neighbours, library=library)
    limit = library.rule("piece_gap_mm")
    most = 0
    for margin in MARGINS_MM:
        layout, placed = search.run(margin_mm=margin)
        most = max(most, placed)
        if layout is None:
            break
        nearest = Exact(search).nearest_pair_mm(layout.pieces)
        if nearest is None or nearest >= limit:
            tree, solid = _tree(
                layout, search, nearest_mm=nearest, patterns=patterns, material=pattern_material, alloy=alloy, cuts=known.cuts
            )
            facts = Facts(
                tree=tree,
                pieces=tuple(p.piece for p in patterns),
                sites={key: one.sited for key, one in known.hangers.items()},
                ours=known.ours,
                cuts=known.cuts,
                room=room,
                library=library,
            )
            return Grown(tree=tree, bodies=named(solid, search), cast=cast(solid, search), facts=facts)
    whole = sum(many)
    return NoRoom(placed_count=min(most, whole - 1), why=_why(search, most, whole))


def _why(search: Search, placed: int, whole: int) -> str:
    """Why there is no tree, in a sentence."""
    room, rule = search.room, search.library.rule
    wide = room.radius_mm - rule("wall_gap_mm") - search.stem_mm / 2
    high = room.ceiling_mm - room.floor_mm - rule("first_row_mm")
    offer = f"Beside the stem there are {max(wide, 0):.0f} mm to the clearance from the wall, and {max(high, 0):.0f} mm of height."
    for kind in dict.fromkeys(search.items):
        if search.alone(kind) is None:
            piece = search.hangers[kind].ready.pattern.piece
            size = " x ".join(f"{side:.0f}" for side in sorted(piece.envelope_mm))
            return f'"{piece.name}" of {size} mm finds no place even alone. {offer}'
    return f"{min(placed, whole - 1)} of {whole} pieces find place. {offer}"


def _tree(
    layout: Layout,
    search: Search,
    *,
    nearest_mm: float | None,
    patterns: Sequence[Pattern],
    material: PatternMaterial,
    alloy: Alloy,
    cuts: Sequence[Cut],
) -> tuple[Tree, Solids]:
    """Volumes, masses and distances of a layout."""
    room, library = search.room, search.library
    solid = solids(layout, search)
    places = _places(search, solid)
    clearances = _clearances(layout, search, solid, nearest_mm=nearest_mm)
    button_mm3 = cap_volume_mm3(room.dome_diameter_mm, room.dome_height_mm)
    stem_mm3, sprues_mm3 = solid.stem.volume(), sum(body.sprue.volume() for body in solid.bodies)
    pieces_mm3 = sum(pattern.piece.volume_mm3 * pattern.piece.count for pattern in patterns)
    pieces_g = sum(pattern.piece.metal_g * pattern.piece.count for pattern in patterns)
    density = alloy.density_g_per_cm3.value
    sprues_g, stem_g, button_g = (cm3_from_mm3(v) * density for v in (sprues_mm3, stem_mm3, button_mm3))
    metal_g = pieces_g + sprues_g + stem_g + button_g
    wax = library.pattern(SPRUE_WAX).density_g_per_cm3.value
    shortest = [mm for mm in (clearances.pieces_mm, clearances.wall_mm, clearances.tip_mm) if mm is not None]
    tree = Tree(
        places=places,
        tiers=tuple(Tier(number=p.tier, height_mm=p.height_mm) for p in {p.tier: p for p in places}.values()),
        stem=Stem(diameter_mm=layout.stem_mm, foot_mm=room.floor_mm, top_mm=layout.stem_top_mm, volume_mm3=stem_mm3),
        button=Button(
            diameter_mm=room.dome_diameter_mm, foot_mm=room.base_depth_mm, height_mm=room.dome_height_mm, volume_mm3=button_mm3
        ),
        clearance_mm=min(shortest),
        clearances=clearances,
        top_mm=room.height_mm - clearances.tip_mm,
        usable_mm=room.ceiling_mm - room.floor_mm,
        pieces_g=pieces_g,
        sprues_g=sprues_g,
        stem_g=stem_g,
        button_g=button_g,
        metal_g=metal_g,
        volume_mm3=pieces_mm3 + sprues_mm3 + stem_mm3 + button_mm3,
        pattern_g=cm3_from_mm3(pieces_mm3) * material.density_g_per_cm3.value + cm3_from_mm3(sprues_mm3 + stem_mm3) * wax,
        yield_fraction=pieces_g / metal_g,
        proposals=tuple(p for cut in cuts if (p := proposal(cut)) is not None),
    )
    return tree, solid


def _places(search: Search, solid: Solids) -> tuple[Place, ...]:
    drawings = {kind: drawn(search.hangers[kind]) for kind in {body.hung.kind for body in solid.bodies}}
    return tuple(
        place(body, search.hangers[body.hung.kind], number=number, drawing=drawings[body.hung.kind])
        for number, body in enumerate(solid.bodies, start=1)
    )


def _clearances(layout: Layout, search: Search, solid: Solids, *, nearest_mm: float | None) -> Clearances:
    room = search.room
    points = [farthest(body, search.hangers[body.hung.kind]) for body in solid.bodies]
    away = [float(np.hypot(p[0], p[1])) for p in points]
    widest = int(np.argmax(np.round(away, 6)))
    heights = [search.extent_of(p.kind, p.style).high_mm + p.height_mm for p in layout.pieces]
    return Clearances(
        pieces_mm=nearest_mm,
        pieces_limit_mm=search.library.rule("piece_gap_mm"),
        wall_mm=room.radius_mm - away[widest],
        wall_limit_mm=search.library.rule("wall_gap_mm"),
        wall_at_mm=point_of(points[widest]),
        wall_place=widest + 1,
        tip_mm=room.height_mm - max(layout.stem_top_mm, *heights),
        tip_limit_mm=room.height_mm - room.ceiling_mm,
    )


def weigh(
    weight_g: float,
    *,
    wax_g: float | None,
    room: Room,
    alloy: Alloy,
    pattern_material: PatternMaterial,
    library: Library,
) -> WeighedTree:
    """What a tree on the scale becomes in metal, with the button that the base shapes.

    Where it is not said how much of a resin tree is sprue wax, a usual share is taken, and the band runs over all shares there are.

    Parameters
    ----------
    weight_g : pieces, sprues and stem, without the base [g]
    wax_g : how much of it is sprue wax [g], None if not said
    room : of the flask, for its button
    """
    pattern, wax = pattern_material.density_g_per_cm3, library.pattern(SPRUE_WAX).density_g_per_cm3
    metal = alloy.density_g_per_cm3
    mixed = wax_g is None and pattern_material.family == "resin"
    share = library.rules["wax_share_fraction"]
    shares = (share.low or 0.0, share.value, share.high or 1.0)
    few_g, some_g, much_g = (weight_g * part for part in shares) if mixed else (wax_g or 0.0,) * 3
    button_mm3 = cap_volume_mm3(room.dome_diameter_mm, room.dome_height_mm)
    button_cm3 = cm3_from_mm3(button_mm3)
    body_cm3 = (weight_g - some_g) / pattern.value + some_g / wax.value
    least_cm3 = (weight_g - few_g) / pattern.ends[1] + few_g / wax.ends[1]
    most_cm3 = (weight_g - much_g) / pattern.ends[0] + much_g / wax.ends[0]
    return WeighedTree(
        pattern_g=weight_g,
        wax_g=some_g,
        mixed=mixed,
        body_g=body_cm3 * metal.value,
        button_g=button_cm3 * metal.value,
        metal_g=(body_cm3 + button_cm3) * metal.value,
        metal_low_g=(least_cm3 + button_cm3) * metal.ends[0],
        metal_high_g=(most_cm3 + button_cm3) * metal.ends[1],
        volume_mm3=mm3_from_cm3(body_cm3) + button_mm3,
    )
