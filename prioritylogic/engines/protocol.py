"""What an engine is: something that looks for a run that breaks a requirement.

An engine is made for one check: a system, its requirements (by number), their observers, and limits.
It is asked about one requirement at a time, on the part of the system that the requirement depends on
(its cone) or on the whole. What no run of the cone does, no run of the whole does; what some run of
the cone does is only a hint. `deciding.py` asks the engines one after the other, in a fixed order.

For `possible` to be broken means that its condition is reached.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol, TypeAlias

from prioritylogic.semantics.lasso import Lasso
from prioritylogic.semantics.state import Run


@dataclass(frozen=True, slots=True)
class Unbroken:
    """No run breaks it.

    Attributes:
        reason: how this is known, and whose second opinion there is.
        brief: the same in a few words, for beside another engine's reason.
        invariant: the facts that it rests on, in the spec's words, if it was proved by some.
        empty: no run counts at all, since none keeps what is assumed.
    """

    reason: str
    brief: str
    invariant: tuple[str, ...] = ()
    empty: bool = False


@dataclass(frozen=True, slots=True)
class Broken:
    """Some run breaks it.

    Attributes:
        run: of the whole system, taken step by step on the reference; None if it is not at hand.
        shortest: whether no run with fewer reactions does.
        lasso: how the run goes on for ever, where that is asked.
    """

    run: Run | None = None
    shortest: bool = True
    lasso: Lasso | None = None


Found: TypeAlias = Unbroken | Broken


class Engine(Protocol):
    """One way to decide requirements.

    Attributes:
        name: as verdicts call it.
    """

    name: str

    def seek(self, number: int, whole: bool, work: int) -> Found:
        """Looks for a run that breaks a requirement.

        Args:
            number: of the requirement.
            whole: on the whole system, else on its cone.
            work: how much may be done, in the engine's own units.

        Raises:
            Declined: the engine cannot read the system or the requirement exactly.
            LimitError: it takes more work, time or memory than there is.
        """
        ...
