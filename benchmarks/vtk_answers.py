"""What VTK says of our sample pieces and of other people's files: the tables of tests/verification/test_soundness_peers.py.

`python -m venv FOLDER`, `FOLDER/bin/pip install vtk==9.7.2`, then, with the project's own Python and the site-packages of FOLDER in
PYTHONPATH, `python benchmarks/vtk_answers.py`. VTK is too large for the locks, so its answers are frozen in the test. One line a
piece: open edges, edges of more than two triangles (vtkFeatureEdges), volume in mm3 (vtkMassProperties), on welded corners.
"""

import sys
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).resolve().parent.parent), str(Path(__file__).resolve().parent.parent / "src")]

from pourwell.geometry.mesh import Mesh  # noqa: E402
from tests.verification.test_soundness_peers import VTK, mesh_of  # noqa: E402


def answers(mesh: Mesh) -> tuple[int, int, float]:
    """Open edges, edges of more than two triangles, volume [mm3] by VTK."""
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
    from vtkmodules.vtkFiltersCore import vtkFeatureEdges, vtkMassProperties

    points, cells, piece = vtkPoints(), vtkCellArray(), vtkPolyData()
    points.SetData(numpy_to_vtk(mesh.vertices, deep=True))
    rows = np.column_stack([np.full(len(mesh.faces), 3), mesh.faces]).ravel()
    cells.ImportLegacyFormat(numpy_to_vtkIdTypeArray(rows.astype(np.int64), deep=True))
    piece.SetPoints(points)
    piece.SetPolys(cells)
    counts = []
    for wanted in ("BoundaryEdges", "NonManifoldEdges"):
        edges = vtkFeatureEdges()
        edges.SetInputData(piece)
        for kind in ("BoundaryEdges", "NonManifoldEdges", "FeatureEdges", "ManifoldEdges"):
            getattr(edges, f"Set{kind}")(kind == wanted)
        edges.Update()
        counts.append(int(edges.GetOutput().GetNumberOfCells()))
    mass = vtkMassProperties()
    mass.SetInputData(piece)
    mass.Update()
    return counts[0], counts[1], float(mass.GetVolume())


if __name__ == "__main__":
    for name, frozen in sorted(VTK.items()):
        found = answers(mesh_of(name))
        same = found[:2] == frozen[:2] and abs(found[2] / frozen[2] - 1) < 1e-9
        print(f"{name:45} {found[0]:6} {found[1]:6} {found[2]:.10g}  {'as frozen' if same else f'frozen: {frozen}'}")
