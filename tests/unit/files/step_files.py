"""STEP files for the tests, written by hand: bodies with flat faces, in any unit (ISO 10303-21, schema of ISO 10303-214)."""

from collections.abc import Sequence

import numpy as np

UNITS = {
    "mm": "( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )",
    "m": "( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT($,.METRE.) )",
    "inch": "( CONVERSION_BASED_UNIT('INCH',#{measure}) LENGTH_UNIT() NAMED_UNIT(#{size}) )",
}


class Step:
    """A file under construction: entities go in, their numbers come out."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def add(self, text: str) -> int:
        """One entity."""
        self.lines.append(f"#{len(self.lines) + 1}={text};")
        return len(self.lines)

    def refs(self, numbers: Sequence[int]) -> str:
        """A list of entities."""
        return "(" + ",".join(f"#{n}" for n in numbers) + ")"

    def point(self, at: np.ndarray) -> int:
        """A place."""
        return self.add("CARTESIAN_POINT('',({}))".format(",".join(f"{x:.6f}" for x in at)))

    def direction(self, along: np.ndarray) -> int:
        """A direction of length one."""
        return self.add("DIRECTION('',({}))".format(",".join(f"{x:.6f}" for x in along / np.linalg.norm(along))))

    def frame(self, at: np.ndarray, axis: np.ndarray, along: np.ndarray) -> int:
        """A place with its axis."""
        return self.add(f"AXIS2_PLACEMENT_3D('',#{self.point(at)},#{self.direction(axis)},#{self.direction(along)})")

    def unit(self, unit: str) -> int:
        """The unit of length; an inch is said in metres."""
        if unit != "inch":
            return self.add(UNITS[unit])
        metre = self.add(UNITS["m"])
        measure = self.add(f"LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(0.0254),#{metre})")
        size = self.add("DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)")
        return self.add(UNITS["inch"].format(measure=measure, size=size))

    def solid(self, points: np.ndarray, faces: Sequence[Sequence[int]]) -> int:
        """A solid of flat faces, anticlockwise seen from outside."""
        vertices = [self.add(f"VERTEX_POINT('',#{self.point(p)})") for p in points]
        edges: dict[tuple[int, int], int] = {}
        made = []
        for face in faces:
            loop = []
            for a, b in zip(face, [*face[1:], face[0]], strict=True):
                key = (min(a, b), max(a, b))
                if key not in edges:
                    low, high = points[key[0]], points[key[1]]
                    vector = self.add(f"VECTOR('',#{self.direction(high - low)},1.)")
                    line = self.add(f"LINE('',#{self.point(low)},#{vector})")
                    edges[key] = self.add(f"EDGE_CURVE('',#{vertices[key[0]]},#{vertices[key[1]]},#{line},.T.)")
                loop.append(self.add(f"ORIENTED_EDGE('',*,*,#{edges[key]},.{'T' if a < b else 'F'}.)"))
            first, second, third = (points[face[k]] for k in (0, 1, 2))
            plane = self.add(f"PLANE('',#{self.frame(first, np.cross(second - first, third - second), second - first)})")
            ring = self.add(f"EDGE_LOOP('',{self.refs(loop)})")
            bound = self.add(f"FACE_OUTER_BOUND('',#{ring},.T.)")
            made.append(self.add(f"ADVANCED_FACE('',(#{bound}),#{plane},.T.)"))
        shell = self.add(f"CLOSED_SHELL('',{self.refs(made)})")
        return self.add(f"MANIFOLD_SOLID_BREP('',#{shell})")

    def product(self, name: str, solid: int, context: int) -> None:
        """A solid as a product of this name."""
        application = self.add("APPLICATION_CONTEXT('automotive design')")
        kind = self.add(f"PRODUCT_CONTEXT('',#{application},'mechanical')")
        product = self.add(f"PRODUCT('{name}','{name}','',(#{kind}))")
        formation = self.add(f"PRODUCT_DEFINITION_FORMATION('','',#{product})")
        design = self.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',#{application},'design')")
        definition = self.add(f"PRODUCT_DEFINITION('design','',#{formation},#{design})")
        shape = self.add(f"PRODUCT_DEFINITION_SHAPE('','',#{definition})")
        origin = self.frame(np.zeros(3), np.array([0, 0, 1.0]), np.array([1.0, 0, 0]))
        body = self.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',(#{origin},#{solid}),#{context})")
        self.add(f"SHAPE_DEFINITION_REPRESENTATION(#{shape},#{body})")


def step(bodies: Sequence[tuple[str, np.ndarray, Sequence[Sequence[int]]]], unit: str = "mm") -> str:
    """A STEP file of named solids."""
    made = Step()
    length = made.unit(unit)
    angle = made.add("( NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.) )")
    solid_angle = made.add("( NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT() )")
    near = made.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-6),#{length},'distance_accuracy_value','')")
    context = made.add(
        "( GEOMETRIC_REPRESENTATION_CONTEXT(3) "
        f"GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{near})) "
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT((#{length},#{angle},#{solid_angle})) REPRESENTATION_CONTEXT('','') )"
    )
    for name, points, faces in bodies:
        made.product(name, made.solid(points, faces), context)
    head = "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
    head += "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\nDATA;\n"
    return head + "\n".join(made.lines) + "\nENDSEC;\nEND-ISO-10303-21;\n"
