"""Settings with a range: what may be tried, and the spec with another value for one of them.

The other value is put into the syntax tree, in place of what the author wrote; so the spec is read
again by the passes that read it anyway, and means what it would mean if the author had written that.
Stories are left out: they are about the value that the author chose.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from prioritylogic.errors import NOWHERE, RequestError, did_you_mean
from prioritylogic.model import fold
from prioritylogic.model.build import build, drafted
from prioritylogic.model.draft import Declaration, label
from prioritylogic.model.intervals import Interval
from prioritylogic.model.system import System
from prioritylogic.model.types import Quantity
from prioritylogic.model.units import PLAIN, TIME, example, unit
from prioritylogic.syntax import nodes
from prioritylogic.syntax.reader import read


@dataclass(frozen=True)
class Ranged:
    """One setting with a range.

    Attributes:
        name: as the spec calls it, with its member.
        value, range: in base units.
        whole: whether only whole numbers are meant.
        unit, factor: for showing, shown = figure / factor.
        is_time: whether it is a length of time.
        spec, text: what it is a setting of.
    """

    name: str
    value: Fraction
    range: Interval
    whole: bool
    unit: str
    factor: Fraction
    is_time: bool
    spec: nodes.Spec
    text: str

    @property
    def grain(self) -> Fraction:
        """What is little in this range: a plain figure, at most a hundredth of it."""
        width, grain = (self.range.high - self.range.low) / self.factor, Fraction(1)
        while grain * 100 > width > 0:
            grain /= 10
        while grain * 1000 <= width:
            grain *= 10
        return grain * self.factor

    def build(self, value: Fraction) -> System:
        """The System with another value.

        Raises:
            SpecError: the spec is refused with this value.
        """
        return build(self._with(value), self.text)

    def _with(self, value: Fraction) -> nodes.Spec:
        if self.unit or self.whole:
            number = nodes.Number(NOWHERE, value / self.factor, self.unit or None)
        else:
            number = nodes.Number(NOWHERE, value * 100, "%")  # a plain number that need not be whole
        base, _, member = self.name.partition("[")
        settings = tuple(
            replace(entry, value=self._changed(entry, member.rstrip("]"), number))
            if entry.key.base == base
            else entry
            for entry in self.spec.settings or ()
        )
        return replace(self.spec, settings=settings, stories=None)

    def _changed(self, entry: nodes.Entry, member: str, number: nodes.Number) -> object:
        if not member:
            return replace(entry.value, value=number)
        group = next(g for g in self.spec.groups or () if g.key.value == entry.key.indices[0].group)
        return tuple(
            nodes.Entry(each.span, each, number if each.value == member else entry.value.value)
            for each in group.value
        )


def ranged(system: System, name: str) -> Ranged:
    """A setting of a spec.

    Raises:
        RequestError: there is none of this name, or it has no range.
    """
    spec, text = read(system.text, system.file), system.text
    draft, lowering = drafted(spec, text)
    settings = [(d, members) for d in draft.of_sort("setting") for members in draft.members(d)]
    by_name = {label(d.name, members): (d, members) for d, members in settings}
    declaration, members = _found(name, by_name)
    node = declaration.node.value
    scope = draft.scope_of(declaration, members)
    found = lowering.constant_of(declaration, members)
    low, high = (lowering.constant(end, scope, None) for end in (node.range.low, node.range.high))
    value = fold.number(found.formula)
    assert (
        isinstance(found.type, Quantity) and value is not None and low is not None and high is not None
    )
    dimension = found.type.dimension or PLAIN
    written = found.type.unit or example(dimension)
    known = unit(written) if written else None
    if known is None and dimension != PLAIN:
        raise RequestError(f"the setting '{name}' has no unit that could be shown; give its value one")
    return Ranged(
        name,
        value,
        Interval(low, high),
        node.range.whole,
        written if known else "",
        known.factor if known else Fraction(1),
        dimension == TIME,
        spec,
        text,
    )


def _found(
    name: str, by_name: dict[str, tuple[Declaration, tuple[str, ...]]]
) -> tuple[Declaration, tuple[str, ...]]:
    """The setting that is meant, which has a range."""
    usable = [known for known, (d, _) in by_name.items() if _has_range(d)]
    those = f"those with a range are {', '.join(usable)}" if usable else "no setting has a range"
    name = name.replace(" ", "")
    indexed = [known for known in usable if known.partition("[")[0] == name]
    if indexed and name not in by_name:
        raise RequestError(f"the setting '{name}' has an index; name one of {', '.join(indexed)}")
    if name not in by_name:
        raise RequestError(f"no setting is called '{name}'; {did_you_mean(name, by_name, those)}")
    declaration, members = by_name[name]
    if not _has_range(declaration):
        raise RequestError(
            f"the setting '{name}' has no range to find values in; {those}. "
            f"Write `{declaration.name}: {{value: ..., range: ... to ...}}`"
        )
    if len(members) > 1:
        raise RequestError(
            f"the setting '{name}' has several indices; one that is varied has at most one"
        )
    return declaration, members


def _has_range(declaration: Declaration) -> bool:
    value = declaration.node.value
    return isinstance(value, nodes.Setting) and value.range is not None
