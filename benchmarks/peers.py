"""Two independent codes on the lone ring of freeze.py, beside this solver: accuracy and time in one table.

`python benchmarks/peers.py [--venv FOLDER] [--edge-mm 1] [--growth 0.06]`. FiPy (finite volumes) and scikit-fem (finite elements)
are installed into a virtual environment that is thrown away, or into FOLDER, which is kept; nothing goes into the project's own
environment or its locks. Both get the ring as whole cubes of one edge, the same steps as this solver, backward Euler, and the
conjugate gradients of scipy, on one core; neither has been tuned. The elements also do the ring's cross-section with fine cells: an
independent word on the reference itself. The times of the peers are without the start of Python, ours without compiling.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).resolve().parent.parent), str(Path(__file__).resolve().parent.parent / "src")]

PINS = {"fipy": "4.0.3", "scikit-fem": "12.0.2"}
REFERENCE_S = 6.132
"""Mean end of freezing by a cross-section of 0.0125 mm, apart from this program; see docs/physics.md, section 10."""
SPAN, FIRST_S = 40e-3, 0.05
"""Edge of the block [m], first step [s] where steps grow by 6 % of the time gone by."""
SOLID, LIQUID, POUR, MOULD = 802.0, 893.0, 1000.0, 500.0
"""degC."""
DENSITY, CAPACITY, LATENT, K_SOLID, K_LIQUID = 9700.0, 300.0, 105e3, 300.0, 170.0
MOULD_HEAT, MOULD_K = 1150.0 * 1050.0, 0.5
"""J/(m3 K), W/(m K)."""
CLOSE_K = 1e-3
"""Largest change of temperature that ends the iteration of a step."""
CLOSE_LINEAR = 1e-6
MOST_SOLUTIONS = 12


def melt(t):
    """Of metal at temperatures (n,) [degC]: heat [J/m3], its slope [J/(m3 K)] and conductivity [W/(m K)], (n,) each."""
    liquid = np.clip((t - SOLID) / (LIQUID - SOLID), 0, 1)
    within = (t > SOLID) & (t < LIQUID)
    slope = DENSITY * (CAPACITY + LATENT / (LIQUID - SOLID) * within)
    return DENSITY * (CAPACITY * t + LATENT * liquid), slope, K_SOLID + (K_LIQUID - K_SOLID) * liquid


def clocks():
    """Now, by the wall and by the processor [s]; the second does not mind what else runs, but counts each core."""
    return time.perf_counter(), time.process_time()


def since(begin):
    """Seconds since then, by both."""
    return tuple(now - then for now, then in zip(clocks(), begin, strict=True))


def steps(growth):
    """Lengths of the steps [s], without end."""
    now = 0.0
    while True:
        length = max(FIRST_S * growth / 0.06, growth * now)
        now += length
        yield now, length


def passing(end, *, before, after, span):
    """Note in `end` (n,) when each temperature falls through the solidus in a step (begin, length) [s]; straight within it."""
    now = np.isnan(end) & (after <= SOLID)
    end[now] = span[0] + span[1] * ((before - SOLID) / np.maximum(before - after, 1e-12))[now]
    return bool(np.isnan(end).any())


def by_fipy(metal, growth):
    """The finite volumes on (n, n, n) cubes, metal where true: mean end [s], unknowns, steps, solutions, seconds by both clocks."""
    from fipy import CellVariable, DiffusionTerm, Grid3D, TransientTerm
    from fipy.solvers.scipy import LinearCGSolver

    begin, n = clocks(), metal.shape[0]
    mesh = Grid3D(dx=SPAN / n, dy=SPAN / n, dz=SPAN / n, nx=n, ny=n, nz=n)
    inside = metal.transpose(2, 1, 0).ravel()  # its first axis runs fastest
    field = CellVariable(mesh=mesh, value=np.where(inside, POUR, MOULD), hasOld=True)
    slope = CellVariable(mesh=mesh, value=MOULD_HEAT)
    conducts = CellVariable(mesh=mesh, value=MOULD_K)
    rest = CellVariable(mesh=mesh, value=0.0)
    balance = TransientTerm(coeff=slope) + rest == DiffusionTerm(coeff=conducts.harmonicFaceValue)
    solver = LinearCGSolver(tolerance=CLOSE_LINEAR, iterations=2000, precon=None)
    end, many = np.full(int(inside.sum()), np.nan), 0
    for count, (now, length) in enumerate(steps(growth), 1):
        field.updateOld()
        old = field.value.copy()
        heat_old = melt(old[inside])[0]
        for _ in range(MOST_SOLUTIONS):
            guess = field.value.copy()
            heat, tangent, k = melt(guess[inside])
            slope[inside], conducts[inside] = tangent, k
            extra = np.zeros(inside.size)
            extra[inside] = (heat - heat_old - tangent * (guess - old)[inside]) / length
            rest.setValue(extra)
            balance.solve(var=field, dt=length, solver=solver)
            many += 1
            if np.abs(field.value - guess).max() < CLOSE_K:
                break
        if not passing(end, before=old[inside], after=field.value[inside], span=(now - length, length)):
            return float(end.mean()), inside.size, count, many, *since(begin)


def by_scikit_fem(metal, growth):
    """The finite elements, trilinear on the same cubes: else as `by_fipy`.

    Their nodes on the surface are the ring's and the mould's, so that at the start half a cube of mould is as hot as the metal.
    """
    from skfem import ElementHex1, MeshHex

    begin, n = clocks(), metal.shape[0]
    mesh = MeshHex.init_tensor(*(np.linspace(0, SPAN, n + 1) for _ in range(3)))
    inside = metal[tuple(np.floor(mesh.p[:, mesh.t].mean(axis=1) / (SPAN / n)).astype(int))]
    return *_march_elements(mesh, ElementHex1(), inside=inside, growth=growth), *since(begin)


def graded(inner, outer, step):
    """Edges evenly `step` apart from inner[0] to inner[1]; outside from a tenth of that, each 12 % wider, to the outer two [m]."""
    even = np.linspace(*inner, round((inner[1] - inner[0]) / step) + 1)
    out = np.cumsum(0.1 * step * 1.12 ** np.arange(200))
    above, below = inner[1] + out[out < outer[1] - inner[1]], inner[0] - out[out < inner[0] - outer[0]]
    return np.concatenate([[outer[0]], below[-2::-1], even, above[:-1], [outer[1]]])


def by_cross_section(metal, growth):
    """The same elements on the ring's cross-section, turned about its axis, from 0.01 mm outside: the reference a second time."""
    from skfem import ElementQuad1, MeshQuad

    begin, step = clocks(), SPAN / metal.shape[0] / 10
    mesh = MeshQuad.init_tensor(graded((8.5e-3, 10.5e-3), (0, 34e-3), step), graded((-1.5e-3, 1.5e-3), (-24e-3, 24e-3), step))
    r, z = mesh.p[:, mesh.t].mean(axis=1)
    inside = (abs(r - 9.5e-3) < 1e-3) & (abs(z) < 1.5e-3)
    return *_march_elements(mesh, ElementQuad1(), inside=inside, growth=growth, turned=True), *since(begin)


def _march_elements(mesh, element, *, inside, growth, turned=False):
    """Mean end [s], unknowns, steps and solutions: heat and conductivity at the points of each element, metal where `inside`.

    The mould's matrices are summed once; only the ring's elements are summed again for every solution.
    """
    from scipy.sparse import diags_array
    from scipy.sparse.linalg import cg
    from skfem import Basis, BilinearForm, LinearForm
    from skfem.helpers import dot, grad

    def measure(w):
        return w["a"] * w.x[0] if turned else w["a"]

    ring, mould = (Basis(mesh, element, intorder=2, elements=np.flatnonzero(which)) for which in (inside, ~inside))
    mass = BilinearForm(lambda u, v, w: measure(w) * u * v)
    stiff = BilinearForm(lambda u, v, w: measure(w) * dot(grad(u), grad(v)))
    source = LinearForm(lambda v, w: measure(w) * v)
    shape = np.ones((mould.nelems, mould.dx.shape[1]))
    mould_mass, mould_stiff = mass.assemble(mould, a=MOULD_HEAT * shape), stiff.assemble(mould, a=MOULD_K * shape)
    field = np.full(mesh.p.shape[1], MOULD)
    field[np.unique(mesh.t[:, inside])] = POUR
    weights = ring.dx * ring.global_coordinates().value[0] if turned else ring.dx
    end, many = np.full(ring.dx.size, np.nan), 0
    for count, (now, length) in enumerate(steps(growth), 1):
        old, at_old = field.copy(), np.asarray(ring.interpolate(field))
        heat_old = melt(at_old)[0]
        for _ in range(MOST_SOLUTIONS):
            heat, tangent, k = melt(np.asarray(ring.interpolate(field)))
            conduct = mould_stiff + stiff.assemble(ring, a=k)
            whole = ((mould_mass + mass.assemble(ring, a=tangent)) / length + conduct).tocsr()
            out = mould_mass @ (field - old) / length + source.assemble(ring, a=(heat - heat_old) / length) + conduct @ field
            near = diags_array(1 / whole.diagonal())
            change, failed = cg(whole, -out, rtol=CLOSE_LINEAR, atol=1e-12, maxiter=2000, M=near)
            if failed:
                raise RuntimeError("the conjugate gradients do not converge")
            field, many = field + change, many + 1
            if np.abs(change).max() < CLOSE_K:
                break
        after = np.asarray(ring.interpolate(field)).ravel()
        if not passing(end, before=at_old.ravel(), after=after, span=(now - length, length)):
            return float(np.average(end, weights=weights.ravel())), field.size, count, many


PEERS = {"fipy": by_fipy, "scikit-fem": by_scikit_fem, "section": by_cross_section}


def even(metal):
    """Mesh of the same cubes for this solver, closed all round: metal where true, one flux between two middles."""
    from pourwell.physics.mesh import METAL, MOULD, Mesh

    n, edge = metal.shape[0], SPAN / metal.shape[0]
    number = np.arange(n**3).reshape(metal.shape)
    first = np.concatenate([np.take(number, range(n - 1), axis=a).ravel() for a in range(3)])
    second = np.concatenate([np.take(number, range(1, n), axis=a).ravel() for a in range(3)])
    index = np.argwhere(np.ones_like(metal)).astype(np.int32)
    kind = np.where(metal.ravel(), METAL, MOULD).astype(np.int8)
    half, nobody = np.full(first.size, 0.5 * edge), np.empty(0)
    return Mesh(
        volume=np.full(n**3, edge**3),
        kind=kind,
        centre=(index + 0.5) * edge,
        level=np.zeros(n**3, dtype=np.int8),
        index=index,
        body=np.where(kind == METAL, 0, -1).astype(np.int32),
        first=first.astype(np.int32),
        second=second.astype(np.int32),
        area=np.full(first.size, edge**2),
        near=half,
        far=half.copy(),
        outer_cell=nobody.astype(np.int32),
        outer_area=nobody,
        outer_depth=nobody.copy(),
        outer_face=nobody.astype(np.int8),
    )


def ours(make, growth):
    """What this solver says on a mesh that is made by a call: as the peers do, the making counted in."""
    from benchmarks.freeze import PLASTER, STERLING
    from pourwell.physics.boundary import Surroundings
    from pourwell.physics.conduction import Setting
    from pourwell.physics.march import Pace
    from pourwell.physics.solidify import solidify
    from pourwell.units import k_from_c

    begin = clocks()
    mesh = make()
    start = np.where(mesh.kind == 1, k_from_c(POUR), k_from_c(MOULD))
    setting = Setting(substances=(PLASTER, STERLING), surroundings=Surroundings())
    got = solidify(mesh, setting, start, pace=Pace(first=FIRST_S * growth / 0.06, growth=growth))
    taken = since(begin)
    return float(np.average(got.end, weights=mesh.volume[got.cells])), mesh.volume.size, got.steps, got.newton, *taken


def cubes(edge):
    """(n, n, n) which cubes of an edge [m] have their middle in the ring."""
    from benchmarks.trees import lone_ring

    n = round(SPAN / edge)
    middle = (np.argwhere(np.ones((n, n, n))) + 0.5) * SPAN / n - np.array([SPAN / 2, SPAN / 2, 0])
    return (lone_ring(middle) < 0).reshape(n, n, n)


def lone_block():
    """The block that the ring stands in."""
    from pourwell.physics.domain import Box

    return Box(lower=(-SPAN / 2, -SPAN / 2, 0), upper=(SPAN / 2, SPAN / 2, SPAN))


def environment(folder):
    """Python of a virtual environment with the peers in it, made if it is not there."""
    python = Path(folder) / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not python.exists():
        subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True)
        wanted = [f"{name}=={number}" for name, number in PINS.items()]
        subprocess.run([str(python), "-m", "pip", "install", "-q", *wanted], check=True)
    return python


def elsewhere(name, *, python, metal, growth):
    """What a peer says, from a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        np.save(Path(folder) / "metal.npy", metal)
        child = [str(python), __file__, "--peer", name, "--growth", str(growth), "--metal", str(Path(folder) / "metal.npy")]
        surroundings = os.environ | {"FIPY_SOLVERS": "scipy", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        done = subprocess.run(child, capture_output=True, text=True, env=surroundings, check=False)
    if done.returncode:
        raise RuntimeError(f"{name} exits with {done.returncode}: {done.stderr[-2000:]}")
    return json.loads(done.stdout.splitlines()[-1])


def row(name, grid, result):
    """One line of the table."""
    mean, unknowns, count, many, seconds, busy = result
    off = 100 * (mean / REFERENCE_S - 1)
    return f"| {name} | {grid} | {unknowns:,} | {count} / {many} | {seconds:.2f} s | {busy:.2f} s | {mean:.3f} s | {off:+.1f} % |"


def compare(python, *, edge, growth):
    """All of them, a line each, as soon as it is there."""
    from benchmarks.trees import lone_ring
    from pourwell.physics.grid import build

    metal = cubes(edge)
    print(
        "| code | cells | unknowns | steps / solutions | time | processor | mean end | error |\n|---|---|---|---|---|---|---|---|",
        flush=True,
    )
    for name, number in PINS.items():
        grid = f"even {edge * 1e3:g} mm"
        print(row(f"{name} {number}", grid, elsewhere(name, python=python, metal=metal, growth=growth)), flush=True)
    section = elsewhere("section", python=python, metal=metal, growth=growth / 4)
    print(row(f"scikit-fem {PINS['scikit-fem']}", "cross-section, steps of a quarter", section), flush=True)
    ours(lambda: even(metal), growth)  # loads or compiles the loops
    print(row("this solver", f"even {edge * 1e3:g} mm", ours(lambda: even(metal), growth)), flush=True)
    for small in (edge, edge / 2, edge / 4):
        made = ours(lambda small=small: build(lone_block(), lone_ring, small).mesh, growth)
        print(row("this solver", f"octree {small * 1e3:g} mm", made), flush=True)


def main():
    """Read the options and run, as the parent or as the child that runs one peer."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--venv", help="folder of a virtual environment for the peers, made if it is not there, and kept")
    parser.add_argument("--edge-mm", type=float, default=1.0)
    parser.add_argument("--growth", type=float, default=0.06)
    parser.add_argument("--peer", choices=PEERS, help=argparse.SUPPRESS)
    parser.add_argument("--metal", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.peer:
        print(json.dumps(PEERS[asked.peer](np.load(asked.metal), asked.growth)))
        return
    from benchmarks.run import machine

    print(machine())
    with tempfile.TemporaryDirectory() as folder:
        compare(environment(asked.venv or folder), edge=asked.edge_mm * 1e-3, growth=asked.growth)


if __name__ == "__main__":
    main()
