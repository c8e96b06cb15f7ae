"""Terms in which one setting is a variable.

What: a figure of the spec that is a line over the setting (model/unknown.py) becomes that line as a
term. Everything else that makes terms is as it is, and knows nothing of this: a step of a system then
means a step for each value of the setting.
"""

from __future__ import annotations

from fractions import Fraction

from prioritylogic.model.intervals import Interval
from prioritylogic.model.unknown import Unknown
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.terms import Figure, Term, Terms, variables


class ParametricTerms(Terms):
    """Makes terms over a setting.

    Args:
        name: of the setting.
        unit, factor: for writing facts about it.
        among: its values.
    """

    def __init__(self, name: str, unit: str, factor: Fraction, among: Interval) -> None:
        super().__init__()
        self.setting = self.var(name, "Real")
        self.unit = (unit, factor)
        self.among = self.inside(among)

    def const(self, value: Figure) -> Term:
        """A constant, or the line that an unknown figure is."""
        if not isinstance(value, Unknown):
            return super().const(value)
        return self.add(self.multiply(self.const(value.slope), self.setting), self.const(value.base))

    def multiply(self, left: Term, right: Term) -> Term:
        """The product.

        Raises:
            Declined: it is one of the setting and of something else that is not known.
        """
        if left.op != "const" and right.op != "const":
            if str(self.setting.leaf) in variables(left, right):
                raise Declined("the setting is multiplied by what changes")
        return super().multiply(left, right)

    def figure(self, value: bool | Fraction) -> Term:
        """A figure of a spec; nothing is asked of one that is unknown."""
        return self.const(value) if isinstance(value, Unknown) else super().figure(value)

    def inside(self, interval: Interval) -> Term:
        """That the setting is in an interval."""
        return self.all(
            self.below(self.const(interval.low), self.setting, interval.low_in),
            self.below(self.setting, self.const(interval.high), interval.high_in),
        )
