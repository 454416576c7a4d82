"""The range of a rule or a value."""

from pourwell.materials.model import Quantity, Rule


def ends(rule: Rule | Quantity) -> tuple[float, float]:
    """The low and high end of a rule or a value; both the value where no range is given."""
    return (rule.value if rule.low is None else rule.low, rule.value if rule.high is None else rule.high)
