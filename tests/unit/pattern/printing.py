"""Print plans for the tests of printing."""

from pourwell.materials.studio import Printer
from pourwell.steps.pattern.print_model import PrintPlan
from pourwell.steps.pattern.print_plan import plan_print
from tests.unit.pattern.case import library, source


def printed(*bodies, direction=None, material="resin", shelf=None, printer=None, assumed=(), **more) -> tuple[PrintPlan, dict]:
    """The plan and its findings by code, a list each."""
    shelf = shelf or library()
    plan, found, _ = plan_print(
        source(*bodies, **more),
        material=shelf.pattern(material) if isinstance(material, str) else material,
        printer=printer or Printer(),
        library=shelf,
        assumed=assumed,
        direction=direction,
    )
    by_code = {}
    for finding in found:
        by_code.setdefault(finding.code, []).append(finding)
    return plan, by_code
