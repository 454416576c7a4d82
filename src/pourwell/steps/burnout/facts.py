"""What the checks of the burnout look at."""

from dataclasses import dataclass

from pourwell.materials.library import Library
from pourwell.materials.model import Investment, PatternMaterial
from pourwell.materials.model import Programme as Row
from pourwell.materials.studio import Kiln
from pourwell.steps.burnout.legs import Case, Leg, legs_as_typed
from pourwell.steps.burnout.model import Programme
from pourwell.steps.flask.model import Flask


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the checks of the burnout look at."""

    programme: Programme
    investment: Investment
    pattern_material: PatternMaterial
    flask: Flask
    flask_c: float
    kiln: Kiln
    stones: bool
    own: bool
    """Did the user name the programme."""
    library: Library

    @property
    def row(self) -> Row:
        """The row that the programme was made from."""
        return self.library.programmes[self.programme.id]

    @property
    def case(self) -> Case:
        """What the legs were worked out for."""
        return Case(
            investment=self.investment,
            flask=self.flask,
            flask_c=self.flask_c,
            kiln=self.kiln,
            library=self.library,
            stones=self.stones,
            pattern_material=self.pattern_material,
        )

    @property
    def legs(self) -> tuple[Leg, ...]:
        """The segments with the level that each starts from."""
        return legs_as_typed(self.programme)
