"""What a solver finds is written in the spec's words, and what is written is read as the same."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest
from claiming import EVERY_KIND, Facts, alike, question

from prioritylogic import load
from prioritylogic.engines.lemmas import Lemmas
from prioritylogic.engines.transition import Transition
from prioritylogic.errors import LimitError, SpecError

SPECS = Path(__file__).parents[3] / "specs"


@pytest.fixture(scope="module")
def every_kind() -> Transition:
    return question(EVERY_KIND)


@pytest.fixture(scope="module")
def lemmas(every_kind: Transition) -> Lemmas:
    return Lemmas(every_kind)


# --------------------------------------------------------------------------- there and back


@pytest.mark.parametrize("seed", range(8))
def test_what_is_written_reads_back_as_the_same(every_kind: Transition, seed: int) -> None:
    facts, lemmas = Facts(every_kind, seed), Lemmas(every_kind)
    for _ in range(30):
        fact = facts.fact()
        text = lemmas.written(fact)
        assert alike(every_kind, fact, lemmas.read(text)), (fact, text)


@pytest.mark.parametrize("name", ["ferry_helm.yaml", "two_levers.yaml", "stations.yaml"])
def test_so_it_does_for_the_specs_that_come_along(name: str) -> None:
    transition = question(load(SPECS / name))
    facts, lemmas = Facts(transition, 1), Lemmas(transition)
    for _ in range(20):
        fact = facts.fact(2)
        text = lemmas.written(fact)
        assert alike(transition, fact, lemmas.read(text)), (fact, text)


def test_every_variable_has_words(every_kind: Transition, lemmas: Lemmas) -> None:
    t = every_kind.terms
    for variable in every_kind.everything.values():
        truth = variable.sort == "Bool"
        fact = variable if truth else t.below(variable, t.const(2), True)
        for one in (fact, t.negation(fact)):
            assert alike(every_kind, one, lemmas.read(lemmas.written(one))), variable


def test_what_is_written_twice_is_written_the_same(every_kind: Transition, lemmas: Lemmas) -> None:
    facts = Facts(every_kind, 99)
    for _ in range(60):
        fact = facts.fact()
        assert lemmas.written(fact) == Lemmas(every_kind).written(fact)


def test_constants_have_words(every_kind: Transition, lemmas: Lemmas) -> None:
    t = every_kind.terms
    assert lemmas.read(lemmas.written(t.true)) is t.true
    assert lemmas.read(lemmas.written(t.false)) is t.false


# --------------------------------------------------------------------------- sentences

SENTENCES = [
    # a text that says the same in other words, and the sentence that is wanted
    ("asked implies asked.time <= steuer.time", "asked implies asked.time <= steuer.time"),
    ("not (asked and gut)", "asked implies not gut"),
    ("not (gut and asked and knopf[links])", "gut and asked implies not knopf[links]"),
    ("not asked or not gut", "asked implies not gut"),
    ("not asked or modus is not auto", "asked implies modus is not auto"),
    ("modus is auto or modus is hand", "modus is not über"),
    ("steuer is hält[links] or steuer is gesperrt[links]", "steuer in (hält[links], gesperrt[links])"),
    ("not (zwei is ja)", "zwei is not ja"),
    ("zwei is nein", "zwei is not ja"),
    ("0 < asked.time", "asked.time > 0 s"),
    ("2 s >= asked.time", "asked.time <= 2 s"),
    ("asked.time - steuer.time < 0 s", "asked.time < steuer.time"),
    ("2 * asked.time <= 4 s", "asked.time <= 2 s"),
    ("asked.time / 2 <= steuer.time / 3", "3 * asked.time <= 2 * steuer.time"),
    ("not (hebel[links] <= 0.5)", "hebel[links] > 50 %"),
    ("winkel <= 3 deg", "winkel <= 3 deg"),
    ("anzahl[rechts] = 2", "anzahl[rechts] = 2"),
    ("anzahl[rechts] != 2", "anzahl[rechts] != 2"),
    ("anzahl[links] + anzahl[rechts] <= 3", "anzahl[links] + anzahl[rechts] <= 3"),
    ("lös[links].clock <= 3 s or gut", "lös[links].clock <= 3 s or gut"),
    ("ruf[links].since <= 2 s", "ruf[links].since <= 2 s"),
    ("not gut or not asked or not knopf[links]", "gut and asked implies not knopf[links]"),
    ("not gut or asked and knopf[links]", "gut implies asked and knopf[links]"),
]


@pytest.mark.parametrize(("said", "wanted"), SENTENCES)
def test_sentences_are_such_as_a_person_would_write(lemmas: Lemmas, said: str, wanted: str) -> None:
    assert lemmas.written(lemmas.read(said)) == wanted


def test_what_has_no_words_is_said_to_have_none(every_kind: Transition, lemmas: Lemmas) -> None:
    t = every_kind.terms
    one, other = (every_kind.everything[name] for name in ("winkel", "zahl"))
    for fact in (
        t.below(t.multiply(one, other), t.zero),
        t.is_whole(one),
        t.below(t.choose(every_kind.everything["gut"], one, other), t.zero),
    ):
        with pytest.raises(LimitError, match="no words"):
            lemmas.written(fact)


# --------------------------------------------------------------------------- texts that say nothing

REFUSED = [
    # a text, where it goes wrong, a word of the message, a word of the remedy
    ("", "1:1", "missing", "expected a name"),
    ("steuer is frei and", "1:16", "missing after `and`", "expected a name"),
    ("knopf[links", "1:6", "never closed", "add `]`"),
    ("gut # x", "1:5", "cannot stand", "an operator"),
    ("steuer", "1:1", "'steuer'", "'steuer.time'"),
    ("steuer.tme <= 2 s", "1:1", "'steuer.tme'", "'steuer.time'"),
    ("steuer.time", "1:1", "is a figure", "compare"),
    ("1 s", "1:1", "is a figure", "compare"),
    ("steuer.time <= 2 zz", "1:16", "'zz'", "unit"),
    ("steuer.time <= 2 deg", "1:13", "different things", "dimension"),
    ("winkel <= 2 s", "1:8", "different things", "dimension"),
    ("winkel > 3", "1:8", "different things", "dimension"),
    ("hebel[links] + steuer.time > 0", "1:14", "different things", "dimension"),
    ("steuer is weg", "1:11", "'steuer is weg'", "known are frei"),
    ("steuer is hält[mitte]", "1:11", "hält[mitte]", "'hält[links]'"),
    ("modus in (auto, xx)", "1:17", "'modus is xx'", "known are auto"),
    ("gut is yes", "1:1", "'gut is yes'", "known are"),
    ("gut and 3", "1:9", "not a condition", "condition"),
    ("gut if 3 else gut", "1:8", "not a condition", "condition"),
    ("-gut < 3", "1:2", "not a figure", "figure"),
    ("steuer.time / 0 > 1", "1:1", "divide", "factor"),
    ("pressed(knopf[links])", "1:1", "no place in a fact", "names and comparisons"),
    ("(gut) for 3 s", "1:1", "no place in a fact", "names and comparisons"),
    ("before(gut)", "1:1", "no place in a fact", "names and comparisons"),
    ("gut and before(gut)", "1:9", "no place in a fact", "names and comparisons"),
    ("not " * 3000 + "gut", "1:1", "", "parts"),
    ("(" * 3000 + "gut" + ")" * 3000, "1:1", "", "parts"),
    ("\x00", "1:1", "cannot stand", "expected"),
]


@pytest.mark.parametrize(("text", "place", "message", "remedy"), REFUSED)
def test_a_bad_text_is_refused_with_its_place_and_a_remedy(
    lemmas: Lemmas, text: str, place: str, message: str, remedy: str
) -> None:
    with pytest.raises(SpecError) as caught:
        lemmas.read(text, "fact 3")
    first, *_ = caught.value.problems
    assert f"{first.span.line}:{first.span.column}" == place
    assert message in first.message and remedy in first.remedy
    shown = str(caught.value)
    assert shown.startswith(f"fact 3:{place}") and "^" in shown
    assert "Error" not in shown and "Term" not in shown


def test_one_fault_is_complained_of_once(lemmas: Lemmas) -> None:
    for text in ("stuer.time <= 2 s", "not stuer", "gut and before(gut)", "abs(winkel) > 1 deg"):
        with pytest.raises(SpecError) as caught:
            lemmas.read(text)
        assert len(caught.value.problems) == 1, str(caught.value)


WORDS = (
    "steuer hält[links] frei modus auto knopf[links] gut asked asked.time steuer.time anzahl[links] hebel"
    " [ ] ( ) , . and or not implies is in if else for within last = != < <= > >= + - * / 2 1.5 s % deg"
    " pressed min count over where \n \t ß ✓ ' \" | \\ : #"
)
PIECES = WORDS.split(" ")


@pytest.mark.parametrize("seed", range(4))
def test_no_text_at_all_gives_anything_but_a_fact_or_a_complaint(lemmas: Lemmas, seed: int) -> None:
    random = Random(seed)
    for _ in range(150):
        text = " ".join(random.choices(PIECES, k=random.randint(1, 12)))
        try:
            fact = lemmas.read(text)
        except SpecError as error:
            assert all(problem.remedy and problem.message for problem in error.problems)
        else:
            assert fact.sort == "Bool"
