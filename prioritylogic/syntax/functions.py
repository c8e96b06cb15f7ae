"""The functions of the expression grammar, and the words it reserves.

One table, read by the expression reader, the messages and the docs. What a function means is the
model's matter; here is only how it may be written.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

RESERVED = frozenset({"if", "else", "implies", "or", "and", "not", "is", "in", "for", "within"})


@dataclass(frozen=True, slots=True)
class Function:
    """How a function is written.

    Attributes:
        example: shown when it is written otherwise.
        count: how many arguments; None for one or more.
        of_name: the argument is a name, not any expression.
    """

    example: str
    count: int | None = 1
    of_name: bool = False

    @property
    def aggregate(self) -> bool:
        """It may also run over the members of a group."""
        return self.count is None


FUNCTIONS = MappingProxyType(
    {
        **{
            name: Function(f"{name}(x[c] over c in group)` or `{name}(x, y)", None)
            for name in ("any", "all", "count", "sum", "min", "max")
        },
        **{name: Function(f"{name}(x = y)") for name in ("begins", "ends", "before", "changed")},
        **{name: Function(f"{name}(x)", of_name=True) for name in ("pressed", "released")},
        "taken": Function("taken(rule)", of_name=True),
        "other": Function("other(c)", of_name=True),
        "abs": Function("abs(x)"),
        "clamp": Function("clamp(x, lowest, highest)", 3),
    }
)
