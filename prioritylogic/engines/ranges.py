"""Ranges: for which values of a setting each requirement holds, decided for all of them at once.

How:

1. The spec is read with the setting left unknown (model/unknown.py). Where the reading itself hangs on
   the value, because a figure is compared with another one, or two delays become one, the range falls
   into *cells* in which it does not, and single values between them. What was read is compared with
   what a reading gives at values near the ends of the cell and wherever two figures meet.
2. In a cell the provers are asked with the setting as a variable that no step changes (cellwise.py).
3. A single value is checked like any spec. So are the ends of each part of the answer, values just
   inside the ends that it has not, and one well inside, the author's own if it is there; a verdict that
   is not that of the part is a disagreement, which ends everything.

What stays open: what the provers do not decide (`recoverable`, answers some day, what would need a
setting to be multiplied by itself or to be whole), with the reason. Settings that are whole numbers are
checked value by value, which needs none of this.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple, TypeAlias

from prioritylogic.engines.bounded import Found, rerun
from prioritylogic.engines.cellwise import Cellwise, Known
from prioritylogic.engines.check import keep_case
from prioritylogic.engines.clockwork import durations, tick_of
from prioritylogic.engines.deciding import Deciding, Decision
from prioritylogic.engines.limits import Limits, rare_collection
from prioritylogic.engines.part import Options
from prioritylogic.errors import DisagreementError, RequestError, SpecError, did_you_mean
from prioritylogic.evidence.ranges import Example, FindResult, Ground, Part, RangeAnswer, Varied
from prioritylogic.model.intervals import Interval
from prioritylogic.model.ranged import Ranged, ranged
from prioritylogic.model.system import Member, Requirement, System
from prioritylogic.model.unknown import Sample, meetings, settled
from prioritylogic.requirements.observer import observer
from prioritylogic.semantics.compile import Declined

MOST_CELLS = 100  # of one requirement
MOST_VALUES = 200  # of a whole number
MOST_TICKS = 60  # of one duration, at a value that nobody chose, to be explored before it is proved
MOST_SYSTEMS = 6  # kept with what was explored of them

Key: TypeAlias = tuple[str, Member]


def find(
    system: System,
    setting: str,
    only: Collection[str] = (),
    limits: Limits | None = None,
    options: Options | None = None,
) -> FindResult:
    """Decides every requirement for every value in a setting's range.

    Args:
        system: from `load`.
        setting: its name, `lock_time` or `wait[left]`.
        only: ids of requirements; () for all.
        limits: on time, memory and states.
        options: switches of the reductions.

    Raises:
        RequestError: there is no such setting or requirement, or the setting has no range.
        DisagreementError: two of our own answers differ.
    """
    varied = ranged(system, setting)
    known = {r.id for r in system.requirements}
    for name in only:
        if name not in known:
            remedy = did_you_mean(name, known, "the spec's ids are " + ", ".join(sorted(known)))
            raise RequestError(f"no requirement is called '{name}': {remedy}")
    with rare_collection():
        try:
            finding = Finding(varied, limits or Limits(), options or Options())
            asked = [r for r in system.requirements if not only or r.id in only]
            answers = tuple(map(finding.answer, asked))
        except DisagreementError as error:
            error.reproducer = keep_case(system, f"{setting}: {error}")
            raise
    shown = Varied(
        varied.name,
        varied.value,
        varied.range,
        varied.whole,
        varied.unit,
        varied.factor,
        varied.is_time,
    )
    return FindResult(system, shown, answers)


class Reading(NamedTuple):
    """The spec with the setting unknown, right in its sample's cell; or why there is no such reading."""

    sample: Sample
    cell: Interval
    system: System | None
    why: str = ""


class Finding:
    """One finding under way."""

    def __init__(self, setting: Ranged, limits: Limits, options: Options) -> None:
        self.setting = setting
        self.limits = limits
        self.options = options
        self._readings: list[Reading] = []
        self._plain: dict[Fraction, Deciding | None] = {}
        self._decisions: dict[tuple[Fraction, Key], Decision] = {}

    def answer(self, requirement: Requirement) -> RangeAnswer:
        """One requirement for all values."""
        self.limits.progress(f"{requirement.id}, for all values of {self.setting.name}")
        found = self._by_value(requirement) if self.setting.whole else self._all_at_once(requirement)
        return RangeAnswer(
            requirement.id,
            requirement.member,
            requirement.keys,
            requirement.text,
            requirement.expected,
            self._shown(requirement, self._joined(found)),
            requirement.span,
        )

    # ----------------------------------------------------------------- single values

    def plain(self, requirement: Requirement, value: Fraction) -> Decision:
        """What a check decides at one value."""
        key = (requirement.id, requirement.member)
        if (value, key) not in self._decisions:
            self._decisions[value, key] = self._checked(key, value)
        return self._decisions[value, key]

    def _checked(self, key: Key, value: Fraction) -> Decision:
        try:
            deciding = self._deciding(value)
        except SpecError as error:
            return Decision("undecided", f"the spec is refused: {error.problems[0].message}")
        numbers = {(r.id, r.member): n for n, r in enumerate(deciding.requirements)}
        if key not in numbers:
            return Decision("undecided", "it is not asked here")
        return deciding.decide(numbers[key])

    def _deciding(self, value: Fraction) -> Deciding:
        """What checks the spec with a value; the last few are kept."""
        found = self._plain.pop(value, None)
        if found is None:
            system = self.setting.build(value)
            asked = list(system.requirements)
            watching = filter(None, map(observer, asked))
            times = durations(system) + [one.figure for one in watching if one.figure]
            fine = value != self.setting.value and max(times, default=0) > MOST_TICKS * tick_of(times)
            found = Deciding(system, asked, self.limits, self.options, provers_first=fine)
        self._plain[value] = found
        if len(self._plain) > MOST_SYSTEMS:
            del self._plain[next(iter(self._plain))]
        return found

    def _single(self, requirement: Requirement, value: Fraction) -> Known:
        """A value by itself."""
        decision = self.plain(requirement, value)
        here = Interval(value, value)
        ground = Ground(here, decision.engine, decision.reason, decision.invariant)
        return Known(decision.verdict, ground)

    def _by_value(self, requirement: Requirement) -> list[Known]:
        """Whole numbers: one after the other."""
        low, high = int(self.setting.range.low), int(self.setting.range.high)
        if high - low >= MOST_VALUES:
            reason = f"more than {MOST_VALUES} whole numbers are too many to be checked one by one"
            return [Known("undecided", Ground(self.setting.range, "none", reason))]
        return [self._single(requirement, Fraction(value)) for value in range(low, high + 1)]

    # ----------------------------------------------------------------- all values at once

    def _all_at_once(self, requirement: Requirement) -> list[Known]:
        if observer(requirement) is None:
            reason = "only single values of the setting can be checked for this form"
            return [Known("undecided", Ground(self.setting.range, "none", reason))]
        found: list[Known] = []
        left, tries = [self.setting.range], 0
        while left:
            here = left.pop()
            tries += 1
            if tries > MOST_CELLS:
                reason = f"the reading of the spec hangs on the value in more than {MOST_CELLS} ways"
                found.append(Known("undecided", Ground(here, "none", reason)))
            elif here.single:
                found.append(self._single(requirement, here.low))
            else:
                cell, known = self._in_cell(requirement, here, self._reading(here))
                found += known
                left += here.without(cell)
        return sorted(found, key=lambda known: (known.ground.values.low, not known.ground.values.low_in))

    def _reading(self, among: Interval) -> Reading:
        """A reading with its sample in an interval."""
        for known in self._readings:
            if among.has(known.sample.value):
                return known
        sample = Sample(among.middle(self.setting.factor), self.setting.range)
        try:
            system = self.setting.build(sample.setting())
        except SpecError as error:
            made = Reading(
                sample, sample.cell, None, f"the spec is refused: {error.problems[0].message}"
            )
        else:
            self._compare(system, sample)
            made = Reading(sample, sample.cell, system)
        self._readings.append(made)
        return made

    def _compare(self, system: System, sample: Sample) -> None:
        """Holds a reading against the spec read with single values, those included where things that
        are kept apart at the sample might be one."""
        ends = [sample.cell.near(low, self.setting.grain) for low in (True, False)]
        for value in dict.fromkeys((*meetings(system, sample.cell), *ends)):
            if value == sample.value or not sample.cell.has(value):
                continue
            try:
                other: System | None = self.setting.build(value)
            except SpecError:
                other = None
            if other is None or replace(settled(system, value), remarks=()) != replace(
                other, remarks=()
            ):
                sample.excludes(value)

    def _in_cell(
        self, requirement: Requirement, here: Interval, reading: Reading
    ) -> tuple[Interval, list[Known]]:
        """The verdicts in as much of an interval as the reading is right for, and how much that is."""
        sample = reading.sample
        sample.cell = reading.cell
        if reading.system is None:
            cell = sample.cell.meet(here)
            assert cell is not None
            return cell, [Known("undecided", Ground(cell, "none", reading.why))]
        key = (requirement.id, requirement.member)
        own = next((r for r in reading.system.requirements if (r.id, r.member) == key), None)
        try:
            question = None if own is None else self._cellwise(reading.system, own, here)
        except Declined as stop:
            why = f"the provers cannot be asked, because {stop}"
            return here, [Known("undecided", Ground(here, "none", why))]
        cell = sample.cell.meet(here)
        assert cell is not None and cell.has(sample.value)
        if sample.pinned:
            why = f"only single values of the setting can be checked, since {sample.pinned}"
            return here, [Known("undecided", Ground(here, "none", why))]
        if question is None:
            return cell, [Known("undecided", Ground(cell, "none", "it is not asked here"))]
        if cell.single:
            return cell, [self._single(requirement, cell.low)]
        return cell, question.answered(cell)

    def _cellwise(self, system: System, requirement: Requirement, among: Interval) -> Cellwise:
        """What asks the provers."""
        key = (requirement.id, requirement.member)

        def confirm(value: Fraction, found: Found) -> None:
            deciding = self._deciding(value)
            own = next(r for r in deciding.requirements if (r.id, r.member) == key)
            deciding.trace(own, rerun(deciding.reference, found))

        bound = self._deciding(self.setting.value).bound(requirement)
        return Cellwise(self.setting, system, requirement, bound, confirm, self.limits, among)

    # ----------------------------------------------------------------- the answer

    def _joined(self, found: Iterable[Known]) -> list[Part]:
        """Neighbours with one verdict as one part."""
        parts: list[Part] = []
        for verdict, ground in found:
            if parts and parts[-1].verdict == verdict:
                last, values = parts[-1], ground.values
                whole = Interval(last.values.low, values.high, last.values.low_in, values.high_in)
                parts[-1] = replace(last, values=whole, grounds=(*last.grounds, ground))
            else:
                parts.append(Part(ground.values, verdict, (ground,)))
        return parts

    def _shown(self, requirement: Requirement, parts: list[Part]) -> tuple[Part, ...]:
        """The parts, held against plain checks, with the runs that these give."""
        return tuple(
            part
            if part.verdict == "undecided"
            else self._checked_part(requirement, part, at, len(parts))
            for at, part in enumerate(parts)
        )

    def _checked_part(self, requirement: Requirement, part: Part, at: int, count: int) -> Part:
        values, near = part.values, self.setting.grain
        low, high = values.near(True, near), values.near(False, near)
        ends = {low: values.low} if at > 0 else {}
        ends |= {high: values.high} if at < count - 1 else {}
        inside = self.setting.value
        if not values.has(inside):
            inside = values.middle(self.setting.factor)
        if self.setting.whole:
            inside = inside if inside.denominator == 1 else values.low
        examples, checked = [], []
        for value in sorted({low, high, inside}):
            decision = self.plain(requirement, value)
            if decision.verdict not in (part.verdict, "undecided"):
                raise DisagreementError(
                    f"{requirement.id}: for all values at once it {part.verdict}, at {value} it "
                    f"{decision.verdict}"
                )
            if decision.verdict != "undecided":
                checked.append(value)
            if decision.trace is not None and (value in ends or (not ends and value == inside)):
                system = self.setting.build(value)
                examples.append(Example(value, ends.get(value, value), decision.trace, system))
        return replace(part, examples=tuple(examples), checked=tuple(checked))
