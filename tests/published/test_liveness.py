"""Published programs, asked whether what is wanted comes some day.

Sources beside each fact. What a run must be like to count is said there as *weak* fairness (a process that
can step without a break does step) or *strong* (so does one that can step again and again); here that is
`takes: some day` and `fair: yes`. `starves` decides the same from the published listings by itself, with
networkx: it knows nothing of specs.
"""

from __future__ import annotations

import networkx
import pytest
from places import file_of
from test_exclusion import (
    THIRD,
    ben_ari,
    huth_ryan_first,
    peterson_lines,
    peterson_one_step,
    semaphore,
)
from textbook import Configuration, Program, reach

import prioritylogic
from prioritylogic.evidence.results import Answer

HOW = {"weak": "takes: some day", "strong": "may: yes, fair: yes"}
NOT_AT_ALL = "may: yes"

# --------------------------------------------------------------------------- the listings


def mover(one: Configuration, other: Configuration) -> int:
    """Which of the two processes steps."""
    return 0 if one[0] != other[0] else 1


def starves(program: Program, start: Configuration, waiting: object, strong: bool) -> bool:
    """Whether the first process can wait for ever in a run that is fair to both."""
    here = [now for now in reach(program, start) if now[0] == waiting]
    graph = networkx.DiGraph()
    graph.add_nodes_from(here)
    graph.add_edges_from((a, b) for a in here for b in program(a) if b[0] == waiting)
    if any(not list(program(now)) for now in here):
        return True
    left = [graph]
    while left:
        inner = left.pop()
        for nodes in networkx.strongly_connected_components(inner):
            together = inner.subgraph(nodes).copy()
            steps = {mover(a, b) for a, b in together.edges}
            able = {now: {mover(now, b) for b in program(now)} for now in together}
            again = set.union(*able.values()) if strong else set.intersection(*able.values())
            if not together.edges:
                continue
            if again <= steps:
                return True
            if strong:
                unable = [now for now in together if not able[now] & (again - steps)]
                left.append(together.subgraph(unable).copy())
    return False


# --------------------------------------------------------------------------- the specs


def asked(name: str, how: str, after: str, expect: str) -> Answer:
    """What `check` says of the first process waiting, with every step of a spec made so fair."""
    text = file_of(name).read_text(encoding="utf-8")
    text = text.replace(NOT_AT_ALL, HOW.get(how, NOT_AT_ALL))
    if how == "strong":  # a rule over several lines
        text = text.replace("        may: yes, fair: yes", "        may: yes\n        fair: yes")
    served = f"  - id: SERVED\n    after: {after}\n    expect: {expect}\n"
    text = text.replace("requirements:\n", f"requirements:\n{served}")
    result = prioritylogic.check(prioritylogic.load(text), only=["SERVED"])
    return result.requirements[0]


@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize(
    ("name", "program"),
    [
        ("peterson_one_step", peterson_one_step),
        ("peterson_separate_writes", peterson_lines("flag", "turn")),
    ],
)
def test_nobody_starves_under_peterson(name: str, program: Program, how: str) -> None:
    """Peterson 1981; Baier and Katoen 2008, ex. 2.25 and section 3.5 (from memory)."""
    start = ("n", "n", 0) if name.endswith("step") else (0, 0, 0)
    assert not starves(program, start, "w" if name.endswith("step") else 2, how == "strong")
    answer = asked(name, how, "p[first] is waiting", "p[first] is critical")
    assert (answer.verdict, answer.engine) == ("holds", "cycles")


def test_peterson_needs_a_fair_scheduler() -> None:
    """Without any fairness a process may simply never step: then nothing happens any more."""
    answer = asked("peterson_one_step", "not at all", "p[first] is waiting", "p[first] is critical")
    assert answer.verdict == "fails" and answer.trace is not None
    assert answer.trace.loop == len(answer.trace.run.moments)


def test_a_semaphore_starves_unless_scheduling_is_strongly_fair() -> None:
    """Baier and Katoen 2008, ex. 2.24 and section 3.5 (from memory): a process can be passed over for ever;
    weak fairness does not help, since the token is not always there, and strong fairness does."""
    for how in HOW:
        assert starves(semaphore, ("n", "n", 1), "w", how == "strong") == (how == "weak")
    weak = asked("semaphore", "weak", "p[first] is waiting", "p[first] is critical")
    assert weak.verdict == "fails" and weak.trace is not None and weak.trace.loop is not None
    looping = {rule for m in weak.trace.run.moments[weak.trace.loop :] for rule in m.taken}
    assert looping == {"ask[second]", "enter[second]", "leave[second]"}
    strong = asked("semaphore", "strong", "p[first] is waiting", "p[first] is critical")
    assert strong.verdict == "holds"


def test_a_request_is_answered_in_the_second_model_only() -> None:
    """Huth and Ryan 2004, section 3.3 (from memory): "liveness" fails in the first model, where the other
    one may enter again and again, and holds in the second."""
    assert starves(huth_ryan_first, ("n", "n"), "t", strong=False)
    first = asked("huth_ryan_first", "weak", "p[first] is trying", "p[first] is critical")
    second = asked("huth_ryan_second", "weak", "p[first] is trying", "p[first] is critical")
    assert (first.verdict, second.verdict) == ("fails", "holds")
    assert first.trace is not None and first.trace.loop is not None
    assert first.trace.loop < len(first.trace.run.moments)


def test_the_third_attempt_stands_still() -> None:
    """Ben-Ari 2006, ch. 3 (from memory): both wait for each other, however fair the scheduler is."""
    assert starves(ben_ari(THIRD), (0, 0), THIRD.index("await"), strong=True)
    answer = asked("ben_ari_third", "strong", "line[p] is at_3", "line[p] is at_4")
    assert answer.verdict == "fails" and answer.trace is not None
    last = answer.trace.run.moments[-1].after
    assert answer.trace.loop == len(answer.trace.run.moments)
    assert last.values[:2] == ("at_3", "at_3")


# --------------------------------------------------------------------------- the oven

OVEN = ("open", "ready", "error_open", "error_shut", "armed", "warm", "cooking")


def test_the_oven_has_seven_states_and_twelve_arrows() -> None:
    """Clarke, Emerson and Sistla 1986 (from memory)."""
    system = prioritylogic.load(file_of("microwave_oven"))
    assert prioritylogic.explore(system, over=["oven"]).counts.states == 7
    (oven,) = system.machines
    assert len({(source, r.target) for r in oven.rules for source in r.sources}) == 12


@pytest.mark.parametrize("start", OVEN)
def test_a_start_is_followed_by_heat_only_where_the_oven_is_used(start: str) -> None:
    """Clarke, Emerson and Sistla 1986 (from memory): from no state without fairness, from every state where
    "started, shut and no error" comes again and again; heat only with the door shut from all."""
    text = file_of("microwave_oven").read_text(encoding="utf-8")
    spec = prioritylogic.load(text.replace("start: open\n", f"start: {start}\n"))
    verdicts = {a.id: a.verdict for a in prioritylogic.check(spec).requirements}
    assert verdicts == {"DOOR": "holds", "HEAT": "fails", "HEAT-IF-USED": "holds"}
