"""A check's result as text for people.

From top to bottom: what was checked, a verdict per requirement and story, the questions that every
spec is asked, findings, the runs that show a failure or a possibility, a summary, and what to do
next. Every mark is a word, so that nothing is lost without colour.

Families are one line where all members have the same verdict for the same reason. Reasons that
requirements hold are said once each, below the list; so are reasons that anything is undecided, for
requirements, stories and questions together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from prioritylogic.errors import NOWHERE
from prioritylogic.evidence.results import Answer, CheckResult, Counts, Trace
from prioritylogic.evidence.words import counted
from prioritylogic.model.system import Member, System
from prioritylogic.render.explanation import explanations
from prioritylogic.render.layout import PLAIN, Ink, beside, column_for, paragraph
from prioritylogic.render.logbook import show_log
from prioritylogic.render.proofs import invariants, tightness
from prioritylogic.render.sentences import requirement_sentence, story_sentence
from prioritylogic.render.values import clock_words, indexed, listed, member_words

CAUTION = (
    "Caution: a verdict is about this text and its assumptions, not about anything built. It does not "
    "replace the rules that apply, a hazard analysis, trials, or licensed practice."
)
_INKS = {"holds": "good", "fails": "bad", "undecided": "open"}
_WORDS = {0: "All well", 1: "Not as it should be", 3: "Undecided"}  # by exit code
_VERBS = {  # of one, of several
    "holds": ("holds", "hold"),
    "fails": ("fails", "fail"),
    "undecided": ("is undecided", "are undecided"),
}


@dataclass(frozen=True, slots=True)
class Group:
    """Members of one family that got the same answer."""

    answers: tuple[Answer, ...]

    @property
    def first(self) -> Answer:
        """One of them, to speak for all."""
        return self.answers[0]

    @property
    def label(self) -> str:
        """The id; a single member's with its index."""
        alone = len(self.answers) == 1
        return indexed(self.first.id, self.first.member) if alone else self.first.id

    @property
    def members(self) -> str:
        """Which members these are, if they are several."""
        if len(self.answers) == 1:
            return ""
        said = [answer.member for answer in self.answers]
        if all(len(member) == 1 for member in said):
            return f"{said[0][0][0]} = {listed(member[0][1] for member in said)}"
        return "; ".join(map(member_words, said))


def check_text(
    result: CheckResult, width: int = 80, ink: Ink = PLAIN, with_invariants: bool = False
) -> str:
    """The whole result of one spec.

    Args:
        result: what `check` found out.
        width: of the terminal, in characters.
        ink: how to style.
        with_invariants: whether the facts behind proofs are shown.
    """
    lines = _header(result, width, ink)
    lines += _answers("Requirements", result, result.requirements, width, ink)
    lines += tightness(result, width, ink)
    lines += invariants(result, width, ink) if with_invariants else []
    lines += _answers("Stories", result, result.stories, width, ink)
    lines += _questions(result, width, ink)
    lines += _open(result, width, ink)
    lines += _findings(result, width, ink)
    lines += _runs(result, width, ink)
    lines += explanations(result, width, ink)
    lines += ["", *_summary(result, width, ink)]
    return "\n".join(lines) + "\n"


# --------------------------------------------------------------------------- what was checked


def _header(result: CheckResult, width: int, ink: Ink) -> list[str]:
    system, counts = result.system, result.counts
    lines = [ink("bold", system.name) + ink("faint", f"  {system.file}")]
    parts = [
        counted(len(system.inputs), "input"),
        counted(len(system.machines), "machine"),
        counted(sum(len(machine.rules) for machine in system.machines), "rule"),
        *([counted(len(system.alerts), "alert")] if system.alerts else []),
    ]
    lines += paragraph(listed(parts), width, 2, 2)
    if counts is not None:
        said = (
            f"{counted(counts.explored, 'state')} and {counted(counts.reactions, 'reaction')} explored"
        )
        said += f", {clock_words(result.tick)}"
        over = listed(counts.over) if len(counts.over) <= 4 else counted(len(counts.over), "name")
        said += f"; {combinations(counts)} of {over}" if counts.over else ""
        lines += paragraph(said if counts.complete else f"{said}, before a limit", width, 2, 2)
    return lines


def combinations(counts: Counts) -> str:
    """How many different values, of one name or of several together, there are."""
    return counted(counts.states, f"different {'value' if len(counts.over) == 1 else 'combination'}")


# --------------------------------------------------------------------------- verdicts


def groups(answers: Iterable[Answer]) -> list[Group]:
    """Neighbouring members of a family with the same verdict and reason, together."""

    def alike(answer: Answer) -> tuple[object, ...]:
        prose = answer.text or answer.member  # without prose each member is said for itself
        return answer.id, answer.verdict, answer.expected, answer.reason, answer.vacuity, prose

    found: list[Group] = []
    for _, family in groupby(answers, key=lambda answer: answer.id):
        kinds: dict[tuple[object, ...], list[Answer]] = {}
        for answer in family:
            kinds.setdefault(alike(answer), []).append(answer)
        found += [Group(tuple(members)) for members in kinds.values()]
    return found


def _answers(
    title: str, result: CheckResult, answers: Sequence[Answer], width: int, ink: Ink
) -> list[str]:
    if not answers:
        return []
    sentences = _sentences(result)
    found = groups(answers)
    at = 13 + column_for((group.label for group in found), limit=20, indent=0)
    lines = ["", ink("bold", title)]
    for group in found:
        answer = group.first
        verdict = ink(_INKS[answer.verdict], answer.verdict) + " " * (9 - len(answer.verdict))
        text = answer.text or sentences.get((answer.id, answer.member), "")
        if group.members:
            text = f"{text} ({group.members})"
        lines += beside(f"{verdict}  {group.label}", text, width, at)
        for note in _notes(answer):
            lines += [ink("faint", line) for line in paragraph(note, width, at)]
    return lines + [ink("faint", line) for line in _why(found, width)]


def _why(found: list[Group], width: int) -> list[str]:
    """Why the holding ones hold, each reason once."""
    reasons: dict[str, list[str]] = {}
    for group in found:
        if _said_below(group.first):
            reasons.setdefault(group.first.reason, []).append(group.label)
    lines = ["  Why they hold:"] if reasons else []
    for reason, labels in reasons.items():
        lines += paragraph(f"{listed(labels)}: {reason}.", width, 4, 4)
    return lines


def _said_below(answer: Answer) -> bool:
    return answer.verdict == "holds" and answer.trace is None and bool(answer.reason)


def _open(result: CheckResult, width: int, ink: Ink) -> list[str]:
    """What stopped whatever is undecided, and what would help, each reason once."""
    reasons: dict[str, list[str]] = {}
    for group in groups((*result.requirements, *result.stories)):
        if group.first.verdict == "undecided":
            reasons.setdefault(group.first.reason, []).append(group.label)
    questions = [q for q in result.questions if q.verdict == "undecided"]
    for reason in dict.fromkeys(question.reason for question in questions):
        kinds = [_kind(question.kind) for question in questions if question.reason == reason]
        asked = ["all that is asked of every spec"] if len(kinds) == len(result.questions) else kinds
        reasons.setdefault(reason, []).extend(asked)
    lines = ["", ink("bold", "Why undecided")] if reasons else []
    for reason, labels in reasons.items():
        lines += paragraph(f"{listed(labels)}: {reason or 'no reason is known'}.", width, 2, 4)
    return lines


def _sentences(result: CheckResult) -> dict[tuple[str, Member], str]:
    """What stands for missing prose: what was understood."""
    system = result.system
    said = {(r.id, r.member): requirement_sentence(system, r) for r in system.requirements if not r.text}
    return said | {(s.id, s.member): story_sentence(system, s) for s in system.stories if not s.text}


def _notes(answer: Answer) -> list[str]:
    notes = []
    if answer.expected != "holds":
        expected = f"but '{answer.expected}' is expected"
        notes.append("as expected" if answer.as_expected else expected)
    if answer.vacuous:
        notes.append(vacuity_words(answer))
    if answer.reason and answer.verdict != "undecided" and not _said_below(answer):
        notes.append(answer.reason)
    return notes


def vacuity_words(answer: Answer) -> str:
    """In which way a requirement is vacuous."""
    return answer.vacuity or "vacuously: what it waits for never happens, so nothing was tested"


def _questions(result: CheckResult, width: int, ink: Ink) -> list[str]:
    if not result.questions:
        return []
    lines = ["", ink("bold", "Asked of every spec")]
    kinds = {"found": ("bad", "fails"), "undecided": ("open", "undecided"), "none": ("good", "holds")}
    for said, (style, verdict) in kinds.items():
        asked = [_kind(q.kind) for q in result.questions if q.verdict == verdict]
        lines += beside(ink(style, said), listed(asked), width, 13) if asked else []
    return lines


def _kind(kind: str) -> str:
    return kind.replace("-", " ").replace("_", " ")


# --------------------------------------------------------------------------- findings and runs


def _findings(result: CheckResult, width: int, ink: Ink) -> list[str]:
    if not result.findings:
        return []
    lines = ["", ink("bold", "Findings")]
    for found in result.findings:
        style = {"error": "bad", "warning": "open", "note": "faint"}[found.level]
        level = "accepted" if found.waived else found.level
        place = "" if found.span == NOWHERE else f"  {found.span.line}:{found.span.column}"
        label = ink("faint" if found.waived else style, level)
        lines += beside(label, found.id + ink("faint", place), width, 13)
        lines += paragraph(found.message, width, 13)
        if found.waived:
            lines += paragraph(f"accepted in the spec: {found.waived}", width, 13)
    return lines


def _runs(result: CheckResult, width: int, ink: Ink) -> list[str]:
    lines: list[str] = []
    system = result.system
    asked = {(r.id, r.member): r for r in system.requirements}
    for group in groups((*result.requirements, *result.stories)):
        how, mark = _seen(group.first)
        shown: list[tuple[object, ...]] = []
        for answer in group.answers:
            run = answer.trace or answer.witness
            if run is None:
                continue
            label = indexed(answer.id, answer.member)
            shape = shape_of(system, run)
            if shape in shown:
                lines += ["", ink("bold", f"{label} {how} in the same way.")]
                continue
            shown.append(shape)
            lines += ["", ink("bold", f"How {label} {how}")]
            requirement = asked.get((answer.id, answer.member))
            said = "" if requirement is None else requirement_sentence(system, requirement)
            lines += [ink("faint", line) for line in paragraph(said, width, 2)] if said else []
            lines += show_log(system, run, width, ink, mark)
    for found in result.findings:
        if found.trace is not None and not found.waived:
            trace = found.trace
            if trace.note == found.message:  # said above the run, for whoever begins to read here
                trace = replace(trace, note="")
            lines += ["", ink("bold", f"How {found.id} comes about")]
            lines += [ink("faint", line) for line in paragraph(found.message, width, 2)]
            lines += show_log(system, trace, width, ink, "seen here")
    return lines


def _seen(answer: Answer) -> tuple[str, str]:
    """What the run beside an answer shows, and the mark where it does."""
    if answer.verdict == "fails":
        return "fails", "fails here"
    return ("is met", "here") if answer.trace is None else ("is reached", "reached here")


def shape_of(system: System, trace: Trace) -> tuple[object, ...]:
    """What two runs have in common that differ in the members of families only."""
    rows = [(m.time, sorted(system.rule(rule).family for rule in m.taken)) for m in trace.run.moments]
    return rows, trace.marked, trace.note, trace.loop, trace.run.end


# --------------------------------------------------------------------------- the end


def _summary(result: CheckResult, width: int, ink: Ink) -> list[str]:
    said = []
    for name, answers in (("requirement", result.requirements), ("story", result.stories)):
        if answers:
            said.append(_tally(name, answers))
    levels = Counter(found.level for found in result.findings if not found.waived)
    issues = [counted(levels[level], level) for level in ("error", "warning", "note") if levels[level]]
    accepted = sum(bool(found.waived) for found in result.findings)
    issues += [f"{counted(accepted, 'finding')} accepted in advance"] if accepted else []
    open_ = any(question.verdict == "undecided" for question in result.questions)
    said.append(listed(issues) if issues else f"no findings{' so far' if open_ else ''}")
    style = {0: "good", 1: "bad", 3: "open"}[result.exit_code]
    words = _WORDS[result.exit_code]
    if not (result.requirements or result.stories):
        said.insert(0, "there is no requirement and no story, so only what is asked of every spec was")
    lines = paragraph(f"{words}: {'; '.join(said)}.", width)
    lines[0] = ink(style, lines[0][: len(words)]) + lines[0][len(words) :]
    return [*lines, *paragraph(f"Next: {_next(result)}", width), *paragraph(CAUTION, width)]


def _tally(name: str, answers: Sequence[Answer]) -> str:
    parts = []
    for verdict, verbs in _VERBS.items():
        found = [answer for answer in answers if answer.verdict == verdict]
        planned = sum(answer.as_expected and verdict == "fails" for answer in found)
        expected = f" ({'as' if planned == len(found) else planned} expected)" if planned else ""
        parts += [f"{len(found)} {verbs[len(found) > 1]}{expected}"] if found else []
    everything = counted(len(answers), name, {"story": "stories"}.get(name, ""))
    if len(parts) == 1:
        return f"{everything} {parts[0].partition(' ')[2]}"
    return f"of {everything} {listed(parts)}"


def _next(result: CheckResult) -> str:
    answers = (*result.requirements, *result.stories)
    wrong = [a for a in answers if a.verdict != "undecided" and not a.as_expected]
    if wrong:
        which = indexed(wrong[0].id, wrong[0].member)
        if wrong[0].verdict == "holds":
            return f"{which} holds although it is expected to fail; take `expected` out of the spec."
        return (
            f"follow the logbook of {which} and change a rule, or the requirement. A failure that is "
            "known and accepted is written down as `expected: fails`, with its reason."
        )
    errors = [found for found in result.findings if found.level == "error" and not found.waived]
    if errors:
        return (
            f"settle {errors[0].id}. What is intended is written down under `waive`, by this id, with "
            "its reason."
        )
    if result.exit_code == 3:
        return "read under 'Why undecided' what stopped it, and what would help."
    return "`read` says the spec back in plain words; change a rule and see which requirement notices."


def overall(results: Sequence[CheckResult], refused: int, width: int = 80) -> str:
    """One sentence about several specs."""
    codes = Counter(result.exit_code for result in results)
    parts = [f"{codes[code]} {words}" for code, words in _WORDS.items() if codes[code]]
    parts += [f"{refused} not checked, since the input is wrong"] if refused else []
    said = f"{counted(len(results) + refused, 'file')}: {', '.join(parts).lower()}."
    return "\n".join(paragraph(said, width)) + "\n"
