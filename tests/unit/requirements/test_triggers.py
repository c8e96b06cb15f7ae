"""What a requirement waits for, as a requirement that it never comes about; and what shows one at work."""

from __future__ import annotations

from fractions import Fraction

import pytest

from prioritylogic.model import formula as f
from prioritylogic.model.system import (
    Always,
    Apart,
    Every,
    Form,
    KeepFor,
    KeepUntil,
    Possible,
    Recoverable,
    Requirement,
    Respond,
)
from prioritylogic.requirements.vacuity import examples, trigger

A, B, C = (f.Read(name) for name in "abc")
TWO = Fraction(2)


def asked(
    form: Form, key: str = "after", during: f.Formula | None = None, unless: f.Formula | None = None
) -> Requirement:
    said = ((key, "a"), *([("during", "b")] if during else []))
    return Requirement("R", (), "", "", form, during, unless, said=said)


@pytest.mark.parametrize(
    "form",
    [
        Respond(A, B, Fraction(0)),
        Respond(A, B, TWO),
        Respond(A, B, None),
        KeepUntil(A, B, C),
        KeepFor(A, B, TWO),
        Every(A, B, TWO),
        Apart(A, TWO),
    ],
)
def test_a_start_that_is_asked_something(form: Form) -> None:
    waits = trigger(asked(form, unless=C), ())
    assert waits is not None
    assert waits.never.form == KeepUntil(A, f.FALSE, f.FALSE) and waits.never.unless == C
    assert waits.said == "`a` never comes about without being cancelled at once"


def test_during_is_said() -> None:
    waits = trigger(asked(Respond(f.conjunction(A, B), C, TWO), during=B), ())
    assert waits is not None and waits.said == "`a` during `b` never comes about"


def test_what_is_recoverable_waits_for_its_loss() -> None:
    waits = trigger(asked(Recoverable(A), "recoverable"), ())
    assert waits is not None and waits.never.form == Always(A)
    assert waits.said == "`a` is never false"


@pytest.mark.parametrize("form", [Possible(A), Always(A)])
def test_some_wait_for_nothing(form: Form) -> None:
    assert trigger(asked(form, "always"), ()) is None


@pytest.mark.parametrize(
    ("form", "shown"),
    [
        (Respond(A, B, TWO), KeepUntil(A, f.Not(B), f.FALSE)),
        (Every(A, B, TWO), Respond(A, f.FALSE, TWO, under=True)),
        (KeepFor(A, B, TWO), Respond(A, f.FALSE, TWO, under=True)),
        (Apart(A, TWO), Apart(A, 2 * TWO)),
        (KeepUntil(A, B, C), KeepUntil(f.All((*f.begins(A).parts, f.Not(C))), f.Not(C), f.FALSE)),  # type: ignore[union-attr]
    ],
)
def test_at_work(form: Form, shown: Form) -> None:
    ((other, _),) = examples(asked(form, unless=C))
    assert other.form == shown and other.unless == C


@pytest.mark.parametrize("form", [Always(A), Recoverable(A), Possible(A)])
def test_nothing_more_telling_than_what_they_wait_for(form: Form) -> None:
    assert not list(examples(asked(form)))
