"""The check list with its gates, in the order of the bench: each step with its number, its caution, and the mistake it prevents.

The cautions are the usual ones of the trade; local codes, material safety sheets and licensed practice take precedence over them.
"""

from pourwell.steps.day import metal_steps, mould_steps
from pourwell.steps.day.bench import Bench as Bench
from pourwell.steps.day.model import CheckStep


def checklist(bench: Bench) -> tuple[CheckStep, ...]:
    """The whole list, day by day."""
    mould = "Tree and mould" if bench.weighed else "Patterns, tree and mould"
    return (
        CheckStep(kind="day", text=mould, fill=False),
        *mould_steps.patterns(bench),
        *mould_steps.tree(bench),
        *mould_steps.investing(bench),
        *mould_steps.kiln(bench),
        CheckStep(kind="day", text="Melt, pour, quench", fill=False),
        *metal_steps.look(bench),
        *metal_steps.set_out(bench),
        *metal_steps.pour(bench),
        *metal_steps.quench(bench),
    )
