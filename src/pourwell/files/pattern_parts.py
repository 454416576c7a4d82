"""Patches and solids: some programs write one solid as several named parts, one for every face or colour of it."""

from collections.abc import Sequence

from pourwell.geometry.mesh import Mesh, joined


def closed(mesh: Mesh) -> bool:
    """Is every body of a mesh a closed one."""
    from pourwell.geometry.solidity import bodies, edges_of, weld  # the engines take a while to load, and most files need none

    welded = weld(mesh)
    edges = edges_of(welded)
    if edges.regular.all() or (edges.count == 1).any():
        return bool(edges.regular.all())
    return all(bool(edges_of(body).regular.all()) for body in bodies(mesh))


def apart_or_joined(name: str, parts: Sequence[tuple[str, Mesh]]) -> list[tuple[str, Mesh]]:
    """The parts of one named thing: those closed by themselves with their own name after it, the others as one."""
    if len(parts) < 2:
        return [(name or own, mesh) for own, mesh in parts]
    whole = [closed(mesh) for _, mesh in parts]
    patches = [mesh for (_, mesh), sound in zip(parts, whole, strict=True) if not sound]
    out = [(f"{name} {own}".strip(), mesh) for (own, mesh), sound in zip(parts, whole, strict=True) if sound]
    return [*out, (name, joined(patches))] if patches else out


def put_together(found: Sequence[tuple[str, Mesh]]) -> list[tuple[str, Mesh]]:
    """Bodies with patches of one solid put together: parts that are open by themselves and closed together are one body."""
    if len(found) < 2:
        return list(found)
    patch = [not closed(mesh) for _, mesh in found]
    if sum(patch) > 1:
        together = joined([mesh for (_, mesh), open_ in zip(found, patch, strict=True) if open_])
        if closed(together):
            return [*(body for body, open_ in zip(found, patch, strict=True) if not open_), ("", together)]
    return list(found)
