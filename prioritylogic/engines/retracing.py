"""The second opinion on an exploration with marks: the reference takes its steps and marks them itself.

That no run without an end breaks a requirement rests on every step being there and on what it meets. So
explored states are written out as full ones, the reference takes steps from them and reads what the
observers ask, whose delay rests and which fair rule could be taken (semantics/lasso.py); each step must
be among those explored, with the same marks. All steps are looked at where they are few, else a seeded
sample, as in recheck.py. On region clocks figures are ordered with those of the observers, which the
reference does not know; there it looks at the logic alone.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any, TypeAlias

from prioritylogic.engines.cycles import Search
from prioritylogic.engines.explore import Node
from prioritylogic.engines.joint import THERE, Joined, Joint, Marks
from prioritylogic.engines.recheck import DRAWS, SEED, Recheck
from prioritylogic.engines.replay import exact_value
from prioritylogic.errors import DisagreementError
from prioritylogic.evidence.words import counted
from prioritylogic.requirements.observer import Fact
from prioritylogic.semantics.lasso import (
    could_be_taken,
    could_be_taken_at_rest,
    could_be_taken_waiting,
    delay_rests,
    delay_runs,
)
from prioritylogic.semantics.state import Moment, State

Place: TypeAlias = tuple[object, ...]
Known: TypeAlias = dict[tuple[Place, Marks], list[tuple[Any, ...]]]


class Retracing:
    """Checks the exploration of one search on whole ticks.

    Args:
        search: in which nothing was found.
    """

    def __init__(self, search: Search) -> None:
        joint = search.product.joint
        assert isinstance(joint, Joint)
        self.product, self.joint, self.asked = search.product, joint, search.asked
        self.reference = search.reference
        self._recheck = Recheck(search.product, search.reference)
        self._remembered = sorted(search.product.table.remembered)
        pairs = zip(self.joint.pairs, self.joint.fair, strict=True)
        # Marked at rest as if their time had come: whether it has is asked while time passes.
        self._later: Marks = sum(can for (can, _), rule in pairs if rule.takes)

    def confirm(self) -> str:
        """Says how much was checked.

        Raises:
            DisagreementError: the reference takes or marks a step differently.
        """
        chosen, whole = self._recheck.chosen()
        known = self._known(None)
        for inputs in self._recheck.start_choices(whole):
            for moment in self.reference.starts(inputs):
                self._reaction(None, moment, known)
        for node in chosen:
            self.product.limits.check_time()
            state = self._recheck.written_out(node)
            self._waiting(node, state)
            known = self._known(node)
            for inputs, expired in self._recheck.choices(state, whole):
                for moment in self.reference.reactions(state, inputs, expired):
                    self._reaction(node, moment, known)
        states = counted(len(self.product.parents), "state")
        if whole:
            return f"the reference took every step from {states} and found it so"
        some = f"{DRAWS * len(chosen)} steps from {len(chosen)} of {states}"
        return f"the reference took {some} and found them so (a sample, seed {SEED})"

    # ----------------------------------------------------------------- reactions

    def _known(self, node: Node | None) -> Known:
        """The explored reactions of a node (None: at time 0, where marks do not matter): what each leads
        to and meets, with what is stored of the inputs."""
        known: Known = defaultdict(list)
        for edge in self.product.starts() if node is None else self.product.edges_of(node):
            place, inputs = self._place(self.product.follow(node, edge))
            known[place, 0 if node is None else edge.marks].append(inputs)
        return known

    def _place(self, node: Node) -> tuple[Place, tuple[Any, ...]]:
        """A node by what it is, and what is stored of its inputs."""
        still = self.product.stills[node.still]
        joined = self._plain(self.product.joined(node))
        return (still._replace(inputs=()), node.clocks, joined, node.watch_clocks), still.inputs

    def _plain(self, joined: Joined) -> Joined:
        return joined._replace(rests=joined.rests & ~self._later)

    def _reaction(self, node: Node | None, moment: Moment, known: Known) -> None:
        if moment.out_of_range:
            return
        reaction, rest = self.reference.reaction_view(moment), self.reference.rest_view(moment.after)
        true = self.reference.true

        def read(fact: Fact) -> bool:
            return true(fact.formula, rest if fact.at_rest else reaction)

        first, clocks_before = self.joint.start
        if node is not None:
            first, clocks_before = self.product.joined(node), node.watch_clocks
        observed = self.joint.observed(first, read)
        if observed is None:
            return
        joined, keeps, marks = observed
        rests = joined.rests | self._at_rest(moment.after)
        marks |= rests & self.joint.again
        for formula, bit in zip(self.asked.again, self.joint.again_bits, strict=True):
            marks |= bit if true(formula, reaction) else 0
        if self.asked.there is not None and true(self.asked.there, reaction):
            marks |= THERE
        for rule, bit in self.joint.weak:
            marks |= bit if delay_rests(self.reference, rule, moment) else 0
        for rule, (can, does) in zip(self.joint.fair, self.joint.pairs, strict=True):
            if rule.id in moment.taken:
                marks |= can | does
            elif could_be_taken(self.reference, rule, moment):
                marks |= can
        still, clocks = self._recheck.projected(moment.after)
        watch_clocks = tuple(c * k for c, k in zip(clocks_before, keeps, strict=True))
        place = (still, clocks, self._plain(joined._replace(rests=rests)), watch_clocks)
        stored = known.get((place, 0 if node is None else marks), [])
        if not any(self._fits(inputs, moment.after) for inputs in stored):
            raise DisagreementError("the reference takes or marks a reaction that was not explored so")

    def _fits(self, inputs: tuple[Any, ...], state: State) -> bool:
        return all(
            inputs[number] is None or exact_value(inputs[number]) == state.values[number]
            for number in self._remembered
        )

    # ----------------------------------------------------------------- time

    def _at_rest(self, state: State) -> Marks:
        """What rest meets, apart from the observers."""
        rest, marks = self.reference.rest_view(state), 0
        for formula, bit in zip(self.asked.again, self.joint.again_bits, strict=True):
            marks |= bit if self.reference.true(formula, rest) else 0
        for rule, bit in self.joint.weak:
            marks |= 0 if delay_runs(self.reference, rule, state) else bit
        if self.reference.settled(state):
            for rule, (can, _) in zip(self.joint.fair, self.joint.pairs, strict=True):
                if not can & self._later and could_be_taken_at_rest(self.reference, rule, state):
                    marks |= can
        return marks

    def _waiting(self, node: Node, state: State) -> None:
        """A tick passes on both sides or on neither, to the same place, and meets the same."""
        later = self.product.later(node)
        joined, clocks, broken = self.joint.later(self.product.joined(node), node.watch_clocks)
        passes = self.reference.may_pass(state, self.product.tick) and not broken
        if passes != (later is not None):
            raise DisagreementError("the reference and the explorer let time pass differently")
        if later is None:
            return
        moved = self._recheck.projected(self.reference.passed(state, self.product.tick))
        if self._place(later[0])[0] != (*moved, self._plain(joined), clocks):
            raise DisagreementError("time leads the reference and the explorer to different places")
        marks = self.product.waiting(node, later[0]) & sum(can for can, _ in self.joint.pairs)
        for rule, (can, _) in zip(self.joint.fair, self.joint.pairs, strict=True):
            could = could_be_taken_waiting(self.reference, rule, state, self.product.tick)
            if could != bool(marks & can):
                raise DisagreementError(f"while time passes {rule.id} can be taken on one side only")
