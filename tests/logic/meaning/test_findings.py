"""Findings about rungs: near misses that must stay silent, and what the findings stand on.

That each finding is triggered is tested by its own samples, in test_meaning_catalogue.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from itertools import product
from random import Random
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.findings.first_scan import FirstScan
from rungproof.logic.meaning.findings.formula import All, Any, Formula, Is, Lies, can_hold, compare, leaves, opposite
from rungproof.logic.meaning.findings.power_up import PowerUpSearch
from rungproof.logic.meaning.program import Event, Story
from rungproof.logic.meaning.understand import understand_texts

Codes = Callable[..., list[str]]

TAGS = """
    start_pb  input   bool
    stop_ok   input   bool
    reset_pb  input   bool
    level     input   real cm 0..100
    flow      input   real L/min 0..10
    lamp      output  bool
    motor     output  bool
    trip      memory  bool  retained
    speed     output  real V 0..10
    items     memory  int 0..9
    minutes   memory  real min 0..1e9
"""

#: Reads every input once, so that `never-read` does not stand in the way.
READS = """rung reads
    rising start_pb or falling stop_ok or rising reset_pb or level > 50 cm or flow > 5 L/min
    => lamp

"""


def _only(found: list[str], *codes: str) -> list[str]:
    """The codes that a test is about."""
    return [code for code in found if code in codes]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("start_pb", "not start_pb"),
        ("level > 50 cm", "level <= 50 cm"),
        ("level > 50 cm", "level < 20 cm"),
        ("start_pb and stop_ok", "not stop_ok and reset_pb"),
        ("start_pb\n    on-delay 2 s as held", "not start_pb"),
        ("(start_pb or reset_pb)\n    not reset_pb", "not start_pb"),
    ],
)
def test_assignments_whose_paths_exclude_each_other_are_fine(first: str, second: str, findings: Codes) -> None:
    """A contact and its inverse, two sides of a limit, and what follows from both."""
    rungs = f"rung a\n    {first}\n    => speed := 1 V\n\nrung b\n    {second}\n    => speed := 2 V\n"
    assert "assigned-twice" not in findings(TAGS, READS + rungs)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("start_pb", "stop_ok"),
        ("level > 50 cm", "level > 20 cm"),
        ("start_pb\n    off-delay 2 s as held", "not start_pb"),
        ("start_pb\n    pulse 2 s as held", "not start_pb"),
    ],
)
def test_assignments_that_can_meet_are_found(first: str, second: str, findings: Codes) -> None:
    """Independent contacts meet; so does an off-delay with the contact gone that started it."""
    rungs = f"rung a\n    {first}\n    => speed := 1 V\n\nrung b\n    {second}\n    => speed := 2 V\n"
    assert "assigned-twice" in findings(TAGS, READS + rungs)


def test_a_tag_written_in_between_excludes_nothing(findings: Codes) -> None:
    """`motor` above its coil and `not motor` below it may both hold in one scan."""
    above = "rung a\n    motor\n    => speed := 1 V\n\n"
    run = "rung run\n    start_pb\n    => motor\n\n"
    below = "rung b\n    not motor\n    => speed := 2 V\n\n"
    assert "assigned-twice" in findings(TAGS, READS + above + run + below)
    assert "assigned-twice" not in findings(TAGS, READS + run + above + below)


def test_when_reads_what_the_rung_has_already_written(findings: Codes) -> None:
    """Two `:=` of one rung told apart by `when` are fine unless the first changes what the second reads."""
    apart = "rung a\n    => speed := 1 V when start_pb\n    => speed := 2 V when not start_pb\n"
    assert "assigned-twice" not in findings(TAGS, READS + apart)
    own = "rung a\n    => speed := 1 V when speed > 5 V\n    => speed := 2 V when speed <= 5 V\n"
    assert "assigned-twice" in findings(TAGS, READS + own)


def test_set_and_reset_of_one_tag_in_several_rungs_are_fine(findings: Codes) -> None:
    """Latches may be set and reset from many places."""
    rungs = "".join(f"rung s{n}\n    rising start_pb\n    => set motor\n\n" for n in range(3))
    rungs += "rung r\n    not stop_ok\n    => reset motor\n"
    assert _only(findings(TAGS, READS + rungs), "two-coils", "coil-and-latch", "set-without-reset") == []


def test_a_trip_whose_reset_asks_for_the_healthy_cause_is_fine(findings: Codes) -> None:
    """The healthy input in series with the reset, or the reset above the set: the cause wins."""
    trip = "rung trip\n    not stop_ok\n    => set trip\n\n"
    asking = "rung undo\n    rising reset_pb\n    stop_ok\n    => reset trip\n\n"
    bare = "rung undo\n    rising reset_pb\n    => reset trip\n\n"
    shown = "rung shown\n    trip\n    => motor\n"
    assert "reset-beats-live-cause" not in findings(TAGS, READS + trip + asking + shown)
    assert "reset-beats-live-cause" not in findings(TAGS, READS + bare + trip + shown)
    assert "reset-beats-live-cause" in findings(TAGS, READS + trip + bare + shown)


def test_a_cause_that_the_trip_itself_ends_is_fine(findings: Codes) -> None:
    """Asked for and no flow: once tripped nothing is asked for, so the reset meets no live cause."""
    rungs = (
        "rung run\n    rising start_pb or motor\n    not trip\n    => motor\n\n"
        "rung trip\n    motor\n    not stop_ok\n    on-delay 2 s as late\n    => set trip\n\n"
        "rung undo\n    rising reset_pb\n    => reset trip\n"
    )
    assert "reset-beats-live-cause" not in findings(TAGS, READS + rungs)


def test_a_guard_in_series_with_both_branches_is_fine(findings: Codes) -> None:
    """A permissive on a line of its own holds for start and seal-in."""
    rungs = "rung run\n    (rising start_pb and stop_ok) or motor\n    stop_ok\n    => motor\n"
    assert "seal-in-goes-round" not in findings(TAGS, READS + rungs)


def test_a_rest_time_that_only_the_start_asks_for_is_fine(findings: Codes) -> None:
    """What is made from outputs alone is meant for the start: a pause between starts."""
    rungs = (
        "rung rest\n    not motor\n    on-delay 4 min as rest_time\n    => rested\n\n"
        "rung run\n    (rising start_pb and rested) or motor\n    stop_ok\n    => motor\n"
    )
    assert "seal-in-goes-round" not in findings(TAGS + "    rested  memory  bool\n", READS + rungs)


@pytest.mark.parametrize(
    "rung",
    [
        "rung n\n    items < 9\n    => items := items + 1\n",
        "rung n\n    => items := min(items + 1, 9)\n",
        "rung n\n    => items := select(items < 9, items + 1, items)\n",
        "rung n\n    => items := items + 1 when items < 9\n",
    ],
)
def test_a_count_that_is_kept_in_its_range_is_fine(rung: str, findings: Codes) -> None:
    """A line above, `min`, `select` or `when` each keep the store within the range."""
    assert "leaves-range" not in findings(TAGS, READS + rung + "\nrung m\n    items > 3\n    => motor\n")


@pytest.mark.parametrize(
    "rung",
    [
        "rung n\n    flow >= 1 L/min\n    => minutes := 100 L / flow\n",
        "rung n\n    => minutes := select(flow >= 1 L/min, 100 L / flow, 0 min)\n",
        "rung n\n    => minutes := 100 L / max(flow, 1 L/min)\n",
        "rung n\n    => minutes := 100 L / (flow + 1 L/min)\n",
    ],
)
def test_a_division_that_was_asked_for_first_is_fine(rung: str, findings: Codes) -> None:
    """A line above, `select`, `max` or a sum that cannot reach 0."""
    found = findings(TAGS, READS + rung + "\nrung m\n    minutes > 3 min\n    => motor\n")
    assert _only(found, "divisor-can-be-zero", "leaves-range") == []


def test_a_rung_that_writes_first_has_asked_too_early(findings: Codes) -> None:
    """A line that asked for `items < 9` says nothing once the rung itself has written `items`."""
    rung = "rung n\n    items < 9\n    => items := items + 1\n    => items := items + 1\n"
    assert "leaves-range" in findings(TAGS, READS + rung + "\nrung m\n    items > 3\n    => motor\n")


@pytest.mark.parametrize(
    "path",
    [
        "start_pb or not start_pb",
        "motor\n    not motor",
        "rising start_pb\n    start_pb",
        "level > 99 cm",
        "level >= 100 cm",
        "start_pb\n    on-delay 2 s as held\n    not motor",
    ],
)
def test_what_can_conduct_is_not_said_to_be_dead(path: str, findings: Codes) -> None:
    """Only what nothing can fulfil is reported."""
    dead = findings(TAGS, READS + f"rung a\n    {path}\n    => motor\n")
    expected = ["rung-never-drives"] if path.startswith("motor") else []
    assert _only(dead, "contact-never-conducts", "rung-never-drives") == expected


@pytest.mark.parametrize("path", ["falling start_pb\n    start_pb", "rising start_pb\n    not start_pb", "off"])
def test_edges_and_constants_are_known_for_what_they_are(path: str, findings: Codes) -> None:
    """The scan that sees an edge also sees the new state, and `off` is never on."""
    dead = findings(TAGS, READS + f"rung a\n    {path}\n    => motor\n")
    assert _only(dead, "contact-never-conducts", "rung-never-drives") != []


@pytest.mark.parametrize(
    ("rungs", "on"),
    [
        ("rung a\n    rising start_pb or motor\n    stop_ok\n    => motor\n", False),
        ("rung a\n    start_pb or motor\n    stop_ok\n    => motor\n", True),
        ("rung a\n    stop_ok\n    on-delay 1 s as wait\n    => motor\n", False),
        ("rung a\n    stop_ok\n    on-delay 1 s as wait retained\n    => motor\n", True),
        ("rung a\n    stop_ok\n    off-delay 1 s as wait\n    => motor\n", True),
        ("rung a\n    start_pb\n    pulse 1 s as wait\n    => motor\n", False),
        ("rung a\n    start_pb\n    count-down 3 as left load by reset_pb\n    => motor\n", True),
        ("rung a\n    not power_up\n    stop_ok\n    => motor\n", False),
        ("rung a\n    not trip\n    => motor\n", True),
        ("rung a\n    items > 3\n    => motor\n", False),
        ("rung a\n    => items := 5\n\nrung b\n    items > 3\n    => motor\n", True),
        ("rung a\n    => motor\n\nrung b\n    power_up\n    => reset motor\n", False),
        # Off in one rung and on in the next, in one scan: three values alone do not see that it cannot be.
        ("rung a\n    not start_pb\n    => set hit\n\nrung b\n    start_pb\n    hit\n    => motor\n", False),
        ("rung a\n    not start_pb\n    => set hit\n\nrung b\n    stop_ok\n    hit\n    => motor\n", True),
    ],
)
def test_what_can_come_on_in_the_first_scan(rungs: str, on: bool, findings: Codes) -> None:
    """Nothing is an edge, no delay has run, and unretained memory stands at its start value."""
    found = findings(TAGS + "hit memory bool\n", READS + rungs, moves=lambda tag: tag == "motor")
    assert ("on-at-power-up" in found) == on


def test_without_a_plant_a_lamp_by_name_is_left_alone(findings: Codes) -> None:
    """An output that only shows something may come on at once; any other gets a note."""
    rungs = "rung a\n    stop_ok\n    => motor\n"
    assert findings(TAGS, READS + rungs).count("may-move-at-power-up") == 1


@pytest.mark.parametrize(
    ("name", "silent"),
    [
        ("fault_lamp", True),
        ("lamps", True),
        ("horn_2", True),
        ("light_curtain_reset", False),
        ("start_signal", False),
        ("clamp", False),
        ("bellows", False),
    ],
)
def test_only_whole_words_of_what_shows_silence_the_note(name: str, silent: bool, findings: Codes) -> None:
    """`clamp` holds no lamp, and a light curtain or a signal may let something move."""
    found = findings(f"a input bool\n{name} output bool", f"rung a\n    a\n    => {name}\n")
    assert ("may-move-at-power-up" not in found) == silent


# ------------------------------------------------------- what findings stand on

_contacts = st.builds(Is, st.integers(0, 4), st.booleans())
_sides = st.sampled_from(["<", "<=", ">", ">=", "=", "<>"])
_levels = st.builds(
    lambda key, side, limit: Lies(("n", key), side, limit, (0, 6), True), st.integers(0, 1), _sides, st.integers(-1, 7)
)
formulas: st.SearchStrategy[Formula] = st.recursive(
    st.one_of(_contacts, _levels),
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: All(tuple(parts))),
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: Any(tuple(parts))),
    ),
    max_leaves=10,
)


def _holds(formula: Formula, values: dict[Hashable, int]) -> bool:
    match formula:
        case Is():
            return bool(values[formula.key]) == formula.value
        case Lies():
            return compare(formula.operator, values[formula.key], formula.limit)
        case All():
            return all(_holds(part, values) for part in formula.parts)
        case Any():
            return any(_holds(part, values) for part in formula.parts)


@settings(max_examples=200, deadline=None)
@given(formulas)
def test_can_hold_agrees_with_the_whole_truth_table(formula: Formula) -> None:
    """Trying every value of every contact and number gives the same answer, for it and its opposite."""
    keys = list({leaf.key: leaf for leaf in leaves(formula)}.values())
    domains = [range(2) if isinstance(leaf, Is) else range(7) for leaf in keys]
    rows = [dict(zip((leaf.key for leaf in keys), row, strict=True)) for row in product(*domains)]
    assert can_hold(formula) == any(_holds(formula, row) for row in rows)
    assert can_hold(opposite(formula)) == any(not _holds(formula, row) for row in rows)


_STAGES = ("on-delay 20 ms", "off-delay 20 ms", "pulse 20 ms", "accumulating on-delay 20 ms", "count-down 2")


def _random_program(random: Random) -> str:
    """A program of rungs with all kinds of contacts, stages and outputs over a few bools."""
    names = [f"i{n}" for n in range(3)] + [f"m{n}" for n in range(3)] + [f"o{n}" for n in range(3)]
    lines = [f"    i{n}  input  bool" for n in range(3)]
    lines += [f"    m{n}  memory  bool{random.choice(['', ' = on'])}" for n in range(3)]
    lines += [f"    o{n}  output  bool" for n in range(3)]
    rungs = []
    for number in range(6):
        target = random.choice(names[3:])
        ways = ["", "not ", "rising ", "falling "]
        path = [random.choice(ways) + random.choice(names) for _ in range(random.randint(0, 2))]
        branch = f"{random.choice(names)} or not {random.choice(names)}"
        kind = random.choice(_STAGES)
        by = {"a": f" clear by {random.choice(names)}", "c": f" load by {random.choice(names)}"}.get(kind[0], "")
        stage = [f"{kind} as s{number}{by}"] if random.random() < 0.4 else []
        output = random.choice(["=> {}", "=> not {}", "=> set {}", "=> reset {}", "=> {} when not i0"]).format(target)
        body = [*path, *([branch] if random.random() < 0.5 else []), *stage, output]
        rungs.append(f"rung r{number}\n" + "".join(f"    {line}\n" for line in body))
    return 'controller "Random" every 10 ms\n\ntags\n' + "\n".join(lines) + "\n\n" + "\n".join(rungs)


@settings(max_examples=150, deadline=None)
@given(st.randoms(use_true_random=False), st.integers(0, 7))
def test_what_the_first_scan_rules_out_never_happens_in_it(random: Random, pressed: int) -> None:
    """Whatever the inputs, a tag that the abstract first scan says is off or on is so in the reference engine."""
    program = understand_texts({"r.rung": _random_program(random)}).program
    assert program is not None
    assert program.controller is not None
    abstract = FirstScan(program.controller, retained=None).run()
    events = tuple(Event(0, f"i{n}", bool(pressed >> n & 1)) for n in range(3))
    final = ReferenceEngine().run(program, Story(duration_ms=10, events=events)).final
    for name, value in abstract.items():
        assert value is None or final[name] == value


@settings(max_examples=100, deadline=None)
@given(st.randoms(use_true_random=False))
def test_an_output_is_said_to_come_on_exactly_where_some_inputs_bring_it_on(random: Random) -> None:
    """Nothing retained and no numbers: the reference engine, run for every assignment, is the judge."""
    understood = understand_texts({"r.rung": _random_program(random)})
    program = understood.program
    assert program is not None
    assert program.controller is not None
    came_on: set[str] = set()
    for row in range(8):
        events = tuple(Event(0, f"i{n}", bool(row >> n & 1)) for n in range(3))
        final = ReferenceEngine().run(program, Story(duration_ms=10, events=events)).final
        came_on |= {name for name in ("o0", "o1", "o2") if final[name]}
    search = PowerUpSearch(program.controller)
    assert {name for name in ("o0", "o1", "o2") if search.can_be_on(name, retained=None)} == came_on
    said = [found.message for found in understood.diagnoses if found.code == "may-move-at-power-up"]
    assert {message.split("`")[1] for message in said} == came_on


def test_what_is_too_much_to_try_is_said_to_come_on() -> None:
    """Findings never miss: a search that runs out of steps answers yes, and does not go on for ever."""
    count = 12
    tags = "".join(f"    a{n}  input  bool\n" for n in range(count)) + "    m  memory  bool\n    o  output  bool\n"
    pairs = [(n, (n + 1) % count) for n in range(count)]
    neither = "".join(f"    not a{n} or not a{m}\n" for n, m in pairs)
    both = " or ".join(f"(a{n} and a{m})" for n, m in pairs)
    text = (
        f'controller "C" every 10 ms\n\ntags\n{tags}\nrung m\n{neither}    => m\n\n'
        f"rung o\n    m\n    {both}\n    => o\n"
    )
    program = understand_texts({"r.rung": text}).program
    assert program is not None
    assert program.controller is not None
    assert PowerUpSearch(program.controller, left=100).can_be_on("o", retained=None)
    assert not PowerUpSearch(program.controller).can_be_on("o", retained=None)


def _many(count: int) -> tuple[str, str]:
    numbers = range(count)
    tags = "".join(f"    a{n}  input  bool\n    b{n}  output  bool\n    v{n}  memory  real L 0..10\n" for n in numbers)
    rungs = "".join(
        f"rung r{n}\n    (rising a{n} and a{n * 7 % count}) or b{n}\n    not a{(n + 1) % count}\n"
        f"    v{n * 3 % count} < 5 L\n    on-delay 5 s as t{n}\n    => b{n}\n"
        f"    => v{n} := v{n} + 0.5 L when v{n} < 9 L\n\n"
        for n in numbers
    )
    return tags, rungs


def test_ten_times_the_rungs_take_about_ten_times_as_long(findings: Codes) -> None:
    """Meaning and findings grow with the text, not with its square (a factor of 30 leaves room for chance)."""
    times = []
    for count in (100, 1000):
        started = process_time()
        findings(*_many(count))
        times.append(process_time() - started)
    assert times[1] < 30 * times[0]
