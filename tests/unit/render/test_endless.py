"""Runs without an end, as people and programs read them."""

from __future__ import annotations

import json
from importlib.resources import files

import jsonschema
import pytest

from prioritylogic import CheckResult, check, load
from prioritylogic.render.json import check_document
from prioritylogic.render.logbook import log, show_log
from prioritylogic.render.path import path
from prioritylogic.render.shown import ShownRun, runs
from prioritylogic.render.timeline import timeline

FERRY = """
system: ferry
inputs:
  call: button
machines:
  helm:
    states: [fore, asked, aft]
    start: fore
    rules:
      - {id: ask, from: fore, if: pressed(call), to: asked}
      - {id: hand_over, from: asked, takes: some day, if: not call, to: aft}
      - {id: give_back, from: aft, after: 3 s, to: fore}
assume:
  - {id: CALLS, again_and_again: pressed(call)}
  - {id: LET-GO, after: call, expect: not call, within: 1 s}
requirements:
  - {id: QUIET, after: helm is asked, expect: helm is aft}
  - {id: AGAIN, after: helm is aft, expect: helm is asked and helm is fore, assuming: [CALLS]}
  - {id: LATE, after: helm is asked, expect: helm is aft, within: 4 s, assuming: [CALLS, LET-GO]}
"""


@pytest.fixture(scope="module")
def result() -> CheckResult:
    return check(load(FERRY))


def shown(result: CheckResult, name: str) -> ShownRun:
    return next(run for run in runs(result) if run.id == name)


def logbook(result: CheckResult, name: str) -> str:
    return "\n".join(show_log(result.system, shown(result, name).trace, 90, mark="fails here"))


def test_nothing_happens_any_more(result: CheckResult) -> None:
    assert (
        logbook(result, "QUIET")
        == """\
  time  row  from outside        rules taken  what changes
   0 s    1  start, all at rest               helm: fore
>  0 s    2  call pressed        ask          helm: fore → asked
             fails here: no answer ever comes
             from here on nothing happens any more"""
    )


def test_rows_repeat(result: CheckResult) -> None:
    assert (
        logbook(result, "AGAIN")
        == """\
  time  row  from outside               rules taken  what changes
   0 s    1  start, all at rest                      helm: fore
   0 s    2  call pressed               ask          helm: fore → asked
   0 s    3  call released
>  0 s    4  nothing                    hand_over    helm: asked → aft
             fails here: no answer ever comes
   3 s    5  helm has been aft for 3 s  give_back    helm: aft → fore
   3 s    6  call pressed               ask          helm: fore → asked
   3 s    7  call released
   3 s    8  nothing                    hand_over    helm: asked → aft
             rows 5 to 8 repeat for ever, each turn in 3 s"""
    )


def test_waiting_decides_in_the_middle(result: CheckResult) -> None:
    assert (
        logbook(result, "LATE")
        == """\
  time  row  from outside        rules taken  what changes
   0 s    1  start, all at rest               helm: fore
   0 s    2  call pressed        ask          helm: fore → asked
   1 s    3  call released
>  4 s       3 s pass
             and time goes on
             fails here: no answer came
   9 s    4  call pressed
   9 s    5  call released
             rows 4 to 5 repeat for ever, each turn in 1 s"""
    )


def test_pictures_say_so_too(result: CheckResult) -> None:
    for name, in_path, in_times in (
        ("QUIET", "from here on nothing happens any more", "for ever"),
        ("AGAIN", "and so on for ever, each turn in 3 s", "again and again"),
    ):
        run = shown(result, name)
        drawn, over_time = path(result.system, run), timeline(result.system, run)
        assert in_path in drawn.dot and in_times in over_time.dot
        ending = log(result.system, run.trace).goes_on
        assert ending and ending.capitalize() in drawn.about and ending.capitalize() in over_time.about


def test_programs_read_it(result: CheckResult) -> None:
    document = check_document([result])
    schema = json.loads((files("prioritylogic.render") / "check.schema.json").read_text("utf-8"))
    jsonschema.validate(document, schema)
    traces = {answer["id"]: answer["trace"] for answer in document["systems"][0]["requirements"]}
    assert traces["QUIET"]["loop"] is None
    assert traces["QUIET"]["goes_on"] == {"rows": None, "turn": "0", "turn_seconds": 0.0}
    assert traces["AGAIN"]["loop"] == traces["AGAIN"]["goes_on"]["rows"]
