"""Rules, alerts, assumptions, requirements and stories, one sentence each.

What `readback.py` arranges on a page is made here: a System's parts as plain words, from what was
understood and not from what was written.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from prioritylogic.model.formula import FALSE, TRUE, Formula
from prioritylogic.model.system import (
    Alert,
    Always,
    Apart,
    Assumption,
    Every,
    KeepFor,
    KeepUntil,
    Machine,
    Possible,
    Recoverable,
    Requirement,
    Respond,
    Rule,
    Seconds,
    Step,
    Story,
    System,
    Takes,
)
from prioritylogic.render.values import duration, listed, one_of, value
from prioritylogic.render.wording import Wording, states


def rule_sentence(system: System, machine: Machine, rule: Rule) -> str:
    """What a rule does, and when."""
    wording = Wording(system, rule.said, machine)
    guard = "" if rule.guard == TRUE else wording.condition(rule.guard)
    start = f"From {states(machine, rule.sources)}, {_moment(rule, wording, guard)}"
    effects = [] if rule.target is None else [f"enters {rule.target}"]
    effects += [
        f"sets {name} to {wording.quantity(right, wording.unit_of(name))}" for name, right in rule.writes
    ]
    if not effects:
        effects = ["changes nothing"]
    sentence = f"{start} it {listed(effects)}."
    if rule.takes is not None and rule.target is None and not rule.takes.since:
        sentence += " Taking it starts the count again."
    if rule.takes is not None and rule.fair:
        sentence += " It is not passed over for ever, if it is possible again and again."
    if rule.beats:
        sentence += f" It wins over {listed(wording.families(rule.beats))}."
    return sentence


def _moment(rule: Rule, wording: Wording, guard: str) -> str:
    if rule.takes is not None:
        return _uncertain(rule.takes, wording, guard)
    parts = []
    if rule.delay is not None:
        over = "more than " if rule.delay.strict else ""
        parts.append(f"once {rule.machine} has stayed there for {over}{duration(rule.delay.time)}")
    if guard:
        parts.append(f"{'when' if rule.may or parts else 'as soon as'} {guard}")
    when = " and ".join(parts) or ("at any time" if rule.may else "at once")
    if not rule.may:
        return f"{when},"
    fair = " (but not for ever, if that is possible again and again)" if rule.fair else ""
    return f"{when}, it may be taken or put off{fair or ', even for ever'}; then"


def _uncertain(takes: Takes, wording: Wording, guard: str) -> str:
    """`takes:` as a stretch of time, and what it counts from."""
    low, high = duration(takes.low), duration(takes.high or takes.low)
    above, below = ("more than " * takes.low_strict), ("less than " * takes.high_strict)
    if takes.high is None:
        bounded = bool(takes.low) or takes.low_strict
        stretch = f"some day, but {above or 'at least '}{low}" if bounded else "some day"
    elif takes.low or takes.low_strict:
        stretch = f"{above}{low} {'and' if above or below else 'to'} {below}{high}"
    else:
        stretch = f"{below or 'at most '}{high}"
    if takes.since:
        origin = f"{wording.rules(takes.since)} (or this one) was last taken"
        origin += f", if {guard}" if guard else ""
        return f"{stretch} after {origin},"
    return f"while {guard}, {stretch} after that began," if guard else f"{stretch} after it got there,"


def alert_sentence(system: System, alert: Alert) -> str:
    """When an alert begins, sounds and ends."""
    wording = Wording(system)
    told = [f"Comes on, and sounds, when it begins that {wording.condition(alert.raise_)}."]
    if wording.is_event(alert.raise_):
        told = [f"Comes on, and sounds, when {wording.condition(alert.raise_)}."]
    if alert.repeat is not None:
        told.append(f"Sounds again every {duration(alert.repeat)} while it is on.")
    if alert.clear is None:
        told.append("Ends with its cause.")
    else:
        told.append(
            f"Is cleared when {wording.condition(alert.clear)}; then it is silent until its cause has "
            "gone and come again."
        )
    if alert.silence_by is not None and alert.silence_for is not None:
        told.append(
            f"Is silenced for {duration(alert.silence_for)} when {wording.condition(alert.silence_by)}."
        )
    return " ".join(told)


def assumption_sentence(system: System, assumption: Assumption) -> str:
    """What the environment is trusted to do."""
    wording = Wording(system)
    if assumption.holds is not None:
        return f"In every run, at every instant: {wording.condition(assumption.holds)}."
    if assumption.again_and_again is not None:
        said = wording.condition(assumption.again_and_again)
        return f"Only where a requirement names it: again and again, for ever, {said}."
    assert assumption.after is not None and assumption.expect is not None
    answer = wording.condition(assumption.expect)
    limit = _limit(assumption.within, assumption.under)
    start = _whenever(wording, assumption.after)
    return f"Only where a requirement names it: {start[0].lower()}{start[1:]}, {answer} {limit}."


def requirement_sentence(system: System, requirement: Requirement) -> str:
    """What must be true."""
    said = dict(requirement.said)
    during = said.get("during", "")

    def wording(*keys: str) -> Wording:
        return Wording(system, " ".join([*(said.get(key, "") for key in keys), during]).strip())

    sentence = _form(requirement, wording("after", "while"), wording)
    if requirement.unless is not None:
        sentence += f", unless before that {wording('unless').condition(requirement.unless)}"
    if requirement.during is not None and not isinstance(requirement.form, Always | Possible):
        ends = wording().condition(requirement.during, negated=True)
        sentence += f"; it is no longer asked once {ends}"
    sentence += "."
    if requirement.assuming:
        sentence += (
            f" This is asked only of runs in which {listed(requirement.assuming)} can be relied on."
        )
    if requirement.expected == "fails":
        sentence += f" It is expected to fail{f': {requirement.reason}' if requirement.reason else ''}."
    return sentence


def _form(requirement: Requirement, start: Wording, wording: Callable[..., Wording]) -> str:
    implied = any(" implies " in text for _, text in requirement.said) or requirement.during is not None
    match requirement.form:
        case Always(condition) if requirement.keys == "never":
            return f"At no instant {wording('never').condition(condition, negated=True)}"
        case Always(condition):
            return f"At every instant, {wording('always').claim(condition, implied)}"
        case Possible(condition):
            return f"Some run comes to a moment at which {wording('possible').condition(condition)}"
        case Recoverable(condition):
            said = wording("recoverable").condition(condition)
            return f"From every state that can be reached, some run comes to a moment at which {said}"
        case Respond(after, expect, limit, under):
            answer = wording("at_once", "expect").condition(expect)
            return f"{_whenever(start, after)}, {answer} {_limit(limit, under)}"
        case KeepUntil(after, keep, until):
            kept, end = wording("keep").condition(keep), wording("until").condition(until)
            return f"{_whenever(start, after)}, from then on {kept} until {end}"
        case KeepFor(after, keep, time):
            kept = wording("keep").condition(keep)
            return f"{_whenever(start, after)}, from then on {kept} for {duration(time)}"
        case Every(while_, expect, period, under):
            often = (
                f"more often than every {duration(period)}"
                if under
                else f"at least every {duration(period)}"
            )
            answer = wording("expect").condition(expect)
            return f"As long as {start.condition(while_)}, {answer} {often}"
        case Apart(after, time):
            first = _whenever(start, after)
            return f"{first}, it does not happen again before {duration(time)} have passed"


def _whenever(wording: Wording, formula: Formula) -> str:
    """The beginning of a condition, or an event."""
    said = wording.condition(formula)
    return f"Whenever {said}" if wording.is_event(formula) else f"Whenever it begins that {said}"


def _limit(limit: Seconds | None, under: bool) -> str:
    if limit is None:
        return "some day"
    if limit == 0 and not under:
        return "in the same instant"
    return f"{'in less than' if under else 'within'} {duration(limit)}"


def story_sentence(system: System, story: Story) -> str:
    """A story's steps and its end."""
    steps = ", then ".join(_step(system, step) for step in story.steps)
    sentence = f"{steps[:1].upper()}{steps[1:]}."
    if story.end is not None:
        sentence += f" At the end {Wording(system, story.said).condition(story.end)}."
    if story.unsettled:
        sentence += " Nothing settles between the steps."
    if story.expected == "fails":
        sentence += f" It is expected to fail{f': {story.reason}' if story.reason else ''}."
    return sentence


def _step(system: System, step: Step) -> str:
    match step.verb:
        case "press" | "release":
            return f"{step.verb} {step.name}"
        case "set":
            assert step.value is not None
            return f"set {step.name} to {value(step.value, system.domain(step.name))}"
        case "take":
            return f"offer {one_of(step.rules)}"
        case "wait":
            return f"wait {duration(step.time)}"
        case "check":
            said = re.sub(r"^check\s+", "", step.said)
            return f"see that {Wording(system, said).condition(step.condition or FALSE)}"
        case "together":
            return f"in one instant {listed(_step(system, part) for part in step.parts)}"
