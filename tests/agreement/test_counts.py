"""Reachable sets counted a second way: as decision diagrams, with the general-purpose library dd.

The steps of a system without clocks and numbers are given to dd as one relation between a state and the
next; the reachable set is its least fixed point (Burch, Clarke, McMillan, Dill, Hwang 1992, "Symbolic model
checking: 10^20 states and beyond"; from memory). What is counted is the different values of machines and
memory in it, which is what `explore` counts by meeting every state.
"""

from __future__ import annotations

from itertools import count, islice
from pathlib import Path

import pytest
from blasting import NotBoolean
from boolean import Plain
from dd.autoref import BDD
from systems import load

import prioritylogic
from prioritylogic.engines.transition import Transition
from prioritylogic.model.system import System
from prioritylogic.semantics.compile import Declined
from prioritylogic.semantics.terms import Term, subterms, variables

PUBLISHED = Path(__file__).parents[1] / "published" / "specs"
GALLERY = Path(__file__).parents[2] / "specs" / "gallery"
SYSTEMS, WIDEST = 30, 26  # variables of a state and its choices


class Diagrams:
    """The steps of one system as diagrams.

    Raises:
        NotBoolean: it has clocks or numbers, or too many variables for a test.
    """

    def __init__(self, system: System) -> None:
        self.transition = transition = Transition(system, None)
        t = transition.terms
        still = {str(wait.leaf): t.zero for wait in transition.waits}
        self.names = tuple(transition.everything)
        self._steps = [
            t.substitute(
                [t.all(part.allowed, part.in_range), *(part.after[n] for n in self.names)], still
            )
            for part in (transition.start, transition.step)
        ]
        found = variables(*(term for part in self._steps for term in part))
        if any(v.sort != "Bool" for v in found.values()) or len(found) > WIDEST:
            raise NotBoolean
        self.bdd = BDD()
        self._declared: dict[str, str] = {}
        for number, name in enumerate(dict.fromkeys((*self.names, *found))):
            self._declared[name] = f"v{number}"
            self.bdd.declare(f"v{number}", f"w{number}")
        self._made: dict[int, object] = {}

    def of(self, root: Term):  # type: ignore[no-untyped-def]
        """The diagram of a term."""
        for term in subterms([root]):
            if id(term) not in self._made:
                self._made[id(term)] = self._build(term)
        return self._made[id(root)]

    def _build(self, term: Term):  # type: ignore[no-untyped-def]
        bdd, args = self.bdd, [self._made[id(arg)] for arg in term.args]
        match term.op:
            case "var":
                return bdd.var(self._declared[str(term.leaf)])
            case "const":
                return bdd.true if term.leaf else bdd.false
            case "not":
                return bdd.apply("not", args[0])
            case "and" | "or":
                made = args[0]
                for arg in args[1:]:
                    made = bdd.apply(term.op, made, arg)
                return made
            case "=" if term.args[0].sort == "Bool":
                return bdd.apply("equiv", *args)
            case "ite":
                return bdd.ite(*args)
        raise NotBoolean

    def reached(self):  # type: ignore[no-untyped-def]
        """Every state after some reaction."""
        start, step = map(self._relation, self._steps)
        found = self._image(start)
        while True:
            more = self.bdd.apply("or", found, self._image(self.bdd.apply("and", found, step)))
            if more == found:
                return found
            found = more

    def _relation(self, part: list[Term]):  # type: ignore[no-untyped-def]
        made = self.of(part[0])
        for name, after in zip(self.names, part[1:], strict=True):
            later = self.bdd.var(self._declared[name].replace("v", "w"))
            made = self.bdd.apply("and", made, self.bdd.apply("equiv", later, self.of(after)))
        return made

    def _image(self, steps):  # type: ignore[no-untyped-def]
        after = self.bdd.exist(list(self._declared.values()), steps)
        return self.bdd.let({v.replace("v", "w"): v for v in self._declared.values()}, after)

    def counted(self, over: list[str]) -> int:
        """The different values of some names in reached states, or before the first reaction."""
        shown = [n for n in self.names if n in over or n.rpartition(" is ")[0] in over]
        kept = {self._declared[name] for name in shown}
        others = [name for name in self._declared.values() if name not in kept]
        found = self.bdd.exist(others, self.bdd.apply("or", self.reached(), self._begun(shown)))
        return int(self.bdd.count(found, nvars=len(shown)))

    def _begun(self, shown: list[str]):  # type: ignore[no-untyped-def]
        system, made = self.transition.system, self.bdd.true
        starts = {
            thing.name: thing.start for group in (system.machines, system.memory) for thing in group
        }
        for name in shown:
            owner, _, value = name.rpartition(" is ")
            true = starts[name] if name in starts else starts[owner] == value
            literal = self.bdd.var(self._declared[name])
            made = self.bdd.apply("and", made, literal if true else self.bdd.apply("not", literal))
        return made


def differs(system: System) -> str:
    """How the two counts differ, if they do."""
    over = [thing.name for group in (system.machines, system.memory) for thing in group]
    by_diagram = Diagrams(system).counted(over)
    met = prioritylogic.explore(system, over).counts.states
    return "" if by_diagram == met else f"{by_diagram} in the diagram, {met} met"


def test_random_systems() -> None:
    seen = 0
    usable = ((seed, load(Plain(seed).spec())) for seed in count(40_000))
    for seed, system in islice(((s, made) for s, made in usable if made is not None), SYSTEMS):
        try:
            assert not differs(system), seed
            seen += 1
        except (NotBoolean, Declined):
            continue
    assert seen >= SYSTEMS / 2


@pytest.mark.parametrize(
    "path",
    [
        PUBLISHED / "peterson_one_step.yaml",
        *(
            GALLERY / f"{n}.yaml"
            for n in (
                "ben_ari_second",
                "ben_ari_third",
                "hyman",
                "peterson_separate_writes",
                "peterson_swapped_writes",
            )
        ),
    ],
    ids=lambda path: path.stem,
)
def test_textbook_programs(path: Path) -> None:
    assert not differs(prioritylogic.load(path))
