"""Passes that lower alerts, terms and outputs.

An output or term may be an event: it is then true in a reaction only, and shown so. Terms are kept
in the System for showing alone, since their formulas already stand wherever they are read.
"""

from __future__ import annotations

from fractions import Fraction

from prioritylogic.model import system
from prioritylogic.model.draft import Draft, Scope, label
from prioritylogic.model.formula import Formula, disjunction
from prioritylogic.model.lower import Lowering
from prioritylogic.model.types import Names, Quantity, Truth, Unknown
from prioritylogic.model.units import unit
from prioritylogic.syntax import nodes


def lower_terms(draft: Draft, lowering: Lowering) -> None:
    """Work out every term and output, read or not."""
    for sort, found in (("term", draft.terms), ("output", draft.outputs)):
        for declaration in draft.of_sort(sort):  # type: ignore[arg-type]
            for members in draft.members(declaration):
                value = lowering.definition(declaration, members, Scope())
                if isinstance(value.type, Unknown):
                    continue
                domain: system.Domain | None = None
                shown, factor = "", Fraction(1)
                match value.type:
                    case Truth():
                        domain = system.Flag("yes_no")
                    case Names(values):
                        domain = system.OneOf(values)
                    case Quantity(unit=name) if (known := unit(name)) is not None:
                        shown, factor = name, known.factor
                name = label(declaration.name, members)
                found.append(system.Output(name, value.formula, domain, shown, factor, declaration.span))


def lower_alerts(draft: Draft, lowering: Lowering) -> None:
    """Lower every alert instance."""
    for declaration in draft.of_sort("alert"):
        node: nodes.Alert = declaration.node.value
        for members in draft.members(declaration):
            scope = draft.scope_of(declaration, members)

            def formula(expression: nodes.Expression, scope: Scope = scope) -> Formula:
                return lowering.truth(expression, scope).formula

            silence = node.silence
            repeat = lowering.duration(node.repeat, scope, positive=True) if node.repeat else None
            quiet = lowering.duration(silence.for_, scope, positive=True) if silence else None
            draft.alerts.append(
                system.Alert(
                    name=label(declaration.name, members),
                    raise_=formula(node.raise_),
                    repeat=repeat,
                    clear=disjunction(*map(formula, node.clear)) if node.clear else None,
                    silence_by=formula(silence.by) if silence else None,
                    silence_for=quiet,
                    about=node.about.value if node.about else "",
                    span=declaration.span,
                )
            )
