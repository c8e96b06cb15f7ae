"""The environment as an oracle that answers questions, and tries every answer.

A reaction is evaluated as ordinary code that asks: is this button pressed, does this timer expire,
is this lever beyond its limit. The oracle answers from a script; past the end of the script it gives
the first possible answer and notes how many there are. When the evaluation is over, `next_script`
turns the last answer that has an alternative, and the reaction is evaluated again. So exactly the
different courses of a reaction are met, each once, and an input that nothing asked about does not
multiply anything (*branch when read*).

An input whose value now was not asked about is free: nothing in the reaction depends on it. If the
next reaction asks what it was, either answer is true of some run, so it is then chosen (that is why
remembered inputs may be stored as unknown).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any, Final

from prioritylogic.engines.cells import AtomId, Cell, Cells
from prioritylogic.semantics.linear import Line, below

UNREAD: Final = None


class Choices:
    """Choices along a script, and the next script: every course is met exactly once."""

    __slots__ = ("_fan", "_position", "_script")

    def __init__(self, script: list[int] | None = None) -> None:
        self._script: list[int] = [] if script is None else script
        self._fan: list[int] = []
        self._position = 0

    def choose(self, alternatives: int) -> int:
        """One of so many alternatives, by number."""
        if alternatives == 1:
            return 0
        if self._position == len(self._script):
            self._script.append(0)
        answer = self._script[self._position]
        self._fan.append(alternatives)
        self._position += 1
        return answer

    @property
    def asked(self) -> bool:
        """Whether anything had more than one answer."""
        return self._position > 0

    def next_script(self) -> list[int] | None:
        """The script of the next course, or None when all were met."""
        script = self._script
        while script and script[-1] + 1 == self._fan[len(script) - 1]:
            script.pop()
        if not script:
            return None
        script[-1] += 1
        return script

    def turn(self) -> bool:
        """Begins the next course; False when all were met."""
        following = self.next_script()
        self._fan, self._position = [], 0
        return following is not None


class Oracle(Choices):
    """Answers for one reaction; see the module.

    Args:
        domains: the values of each input by number (empty for analog ones).
        cuts: the atom of each prepared comparison.
        cells: the possible joint truths of analog comparisons.
        values: answers already given about the inputs now (UNREAD where not).
        previous: what is known about the inputs before.
        cell: analog comparisons already decided.
        script: the course to take.
    """

    __slots__ = ("_cells", "_cuts", "_domains", "cell", "previous", "values")

    def __init__(
        self,
        domains: tuple[tuple[Any, ...], ...],
        cuts: list[AtomId],
        cells: Cells,
        values: tuple[Any, ...],
        previous: tuple[Any, ...],
        cell: Cell,
        script: list[int],
    ) -> None:
        super().__init__(script)
        self._domains = domains
        self._cuts = cuts
        self._cells = cells
        self.values = list(values)
        self.previous = list(previous)
        self.cell = cell

    def get(self, number: int) -> Any:
        """The value of a discrete input now."""
        value = self.values[number]
        if value is UNREAD:
            domain = self._domains[number]
            before = self.previous[number]
            choice = self.choose(len(domain))
            if before is not UNREAD:  # no change comes first: it makes the simplest runs
                domain = (before, *(other for other in domain if other != before))
            value = self.values[number] = domain[choice]
        return value

    def was(self, number: int) -> Any:
        """The value of a remembered input before the reaction."""
        value = self.previous[number]
        if value is UNREAD:
            domain = self._domains[number]
            value = self.previous[number] = domain[self.choose(len(domain))]
        return value

    def below(self, left: Any, right: Any, or_equal: bool) -> bool:
        """Whether left < right (or_equal: <=), where at least one may be a Line."""
        bound = below(left, right, or_equal)
        return bound if isinstance(bound, bool) else self.atom(self._cells.atom(bound))

    def cut(self, number: int) -> bool:
        """Whether the prepared comparison of this number is true."""
        return self.atom(self._cuts[number])

    def atom(self, atom: AtomId) -> bool:
        """Whether a comparison is true."""
        if atom in self.cell:
            return True
        opposite = atom ^ 1
        if opposite in self.cell or not self._cells.possible(self.cell | {atom}):
            return False
        if not self._cells.possible(self.cell | {opposite}):
            return True
        true = self.choose(2) == 1
        self.cell |= {atom if true else opposite}
        return true

    def equal(self, left: Any, right: Any) -> bool:
        """Whether left = right."""
        return self.below(left, right, True) and self.below(right, left, True)

    def least(self, parts: list[Any]) -> Any:
        """The smallest of some numbers or Lines."""
        best = parts[0]
        for part in parts[1:]:
            best = best if self.below(best, part, True) else part
        return best

    def greatest(self, parts: list[Any]) -> Any:
        """The largest of some numbers or Lines."""
        best = parts[0]
        for part in parts[1:]:
            best = part if self.below(best, part, True) else best
        return best

    def change_one(self) -> None:
        """Settles all discrete inputs at once: none changes, or one does. Requires `previous` to be
        known."""
        self.values = list(self.previous)
        changes = [
            (number, value)
            for number, domain in enumerate(self._domains)
            for value in domain
            if value != self.previous[number]
        ]
        choice = self.choose(len(changes) + 1)
        if choice:
            number, value = changes[choice - 1]
            self.values[number] = value

    def analog(self, number: int) -> Line:
        """The analog input of this number as a linear form."""
        return Line(Fraction(0), ((number, Fraction(1)),))
