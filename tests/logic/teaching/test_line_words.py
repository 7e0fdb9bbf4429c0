"""Lines in words: every line of every example, every stage and output, and what the words must agree with."""

from __future__ import annotations

from pathlib import Path
from random import Random

import generated_programs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.grammar import tree
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.project import load_path, load_texts
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.teaching.line_words import LineTold, lexicon_of, lines_told, tell_line
from rungproof.logic.teaching.rung_words import RungWords

EXAMPLES = Path(__file__).parents[3] / "examples"
PROJECTS = sorted({path.parent for path in EXAMPLES.glob("*/controller.rung")})

SHELF = """\
controller "Shelf" every 10 ms

tags
    start_pb  input      bool  "Start"
    stop_ok   input      bool
    level     input      real cm 0..200
    wait      parameter  int ms 10..900 = 200
    run       output     bool  on stop off
    done      memory     bool  retained
    mean      memory     real cm 0..200

rung run "A fresh press starts it"
    rising start_pb or run
    stop_ok
    => run
    => set done when level > 40 cm

rung late
    run
    on-delay 5 s as waited
    not done
    => mean := filter(level, 2 s)
"""


def told(text: str, line: int) -> LineTold:
    project = load_texts({"shelf.rung": text}, Reporter(CATALOGUE))
    found = tell_line(project.blocks, text, "shelf.rung", line, understand_texts({"shelf.rung": text}).program)
    assert found is not None
    return found


def rung(lines: str) -> tuple[str, ...]:
    """What a rung of these lines says, in words."""
    text = SHELF + "\nrung asked\n" + "".join(f"    {line}\n" for line in lines.splitlines())
    project = load_texts({"shelf.rung": text}, Reporter(CATALOGUE))
    asked = next(block for block in project.blocks if isinstance(block, tree.Rung) and block.name == "asked")
    return RungWords(lexicon_of(understand_texts({"shelf.rung": SHELF}).program)).rung(asked)


def test_a_rung_says_what_powers_what() -> None:
    """The words name the output, the condition and what holds otherwise."""
    assert told(SHELF, 12).sentences == (
        'The author says: "A fresh press starts it". The lines say:',
        "Powers `run` when (start_pb comes on or run is on, or both), and stop_ok is on. Otherwise `run` is off.",
        "Switches `done` on when (start_pb comes on or run is on, or both), and stop_ok is on; and, at this output, "
        "level is above 40 cm. It stays on until something resets it.",
    )


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("=> run", "Powers `run` always."),
        ("run\n=> not done", "Takes `done` off when run is on. Otherwise `done` is on."),
        ("rising run\n=> reset done", "Switches `done` off when run comes on. At other times this line leaves"),
        ("run\non-delay wait as a\n=> done", "(a) it has been so for wait without a break that run is on"),
        ("run\noff-delay 2 s as a\n=> done", "(a) it is so, or was so less than 2 s ago, that run is on"),
        ("run\npulse 2 s as a\n=> done", "(a) less than 2 s have passed since it came to be so that run is on"),
        (
            "run\naccumulating on-delay 1 h as a clear by done\n=> run",
            "(a) it has been so for 1 h in all, since done was last on, that run is on",
        ),
        ("run\ncount-up 3 as a clear by done\n=> run", "come to be so 3 times or more, since done was last on"),
        ("run\ncount-down 3 as a load by done\n=> run", "its count is at 0 or below (done loads 3, and"),
        ("run\nrising as a\n=> done", "(a) it has come to be so in this very scan that run is on"),
        ("run\non-delay 1 s as a\nstop_ok\n=> done", "that run is on; and besides stop_ok is on"),
        ("=> mean := select(run, level, 3 cm)", "level while run is on, else 3 cm"),
        ("=> mean := ramp(max(level, 3 cm), 1 cm/s)", "the greatest of level, 3 cm, followed no faster than 1 cm/s"),
        ("=> mean := scale(level, 0..10, 0 cm..5 cm)", "the straight line that takes 0..10 to 0 cm..5 cm"),
        ("=> mean := table(level, 0 cm: 0 L, 10 cm: 31 L)", "read off the table 0 cm: 0 L, 10 cm: 31 L"),
        ("=> mean := pi(level, 90 cm, gain = 2, integral = 2 min, direction = reverse)", "2 times how far it is below"),
    ],
)
def test_each_stage_output_and_function_has_its_words(lines: str, words: str) -> None:
    """No element is passed over, and each is said in its own way."""
    assert words in " ".join(rung(lines))


def test_a_line_of_a_rung_is_told_within_it() -> None:
    """The line first, then the rung that it stands in, and all lines of it."""
    found = told(SHELF, 14)
    assert found.sentences[0] == "This line lets power pass while stop_ok is on."
    assert [each.line for each in found.lines] == [13, 14, 15, 16]


def test_a_tag_is_told_with_who_writes_and_reads_it() -> None:
    """Role, range, start, what a stop and a cut do to it, and its rungs by line."""
    words = " ".join(told(SHELF, 8).sentences)
    assert "`run` is an output" in words
    assert "While the controller is stopped its terminal is off" in words
    assert "Written by rung run (line 12)." in words
    assert "Read by rung run (line 12), rung late (line 18)." in words


@pytest.mark.parametrize("project", PROJECTS, ids=lambda path: path.name)
def test_every_line_of_the_examples_has_words(project: Path) -> None:
    """Controllers, plants, circuits, wiring, requirements, scenarios: no kind of line is left out."""
    program = understand(project).program
    read = load_path(project, Reporter(CATALOGUE))
    for source in read.sources:
        for line in lines_told(read.blocks, source.path):
            found = tell_line(read.blocks, source.text, source.path, line, program)
            assert found is not None, f"{source.path}:{line}"
            assert found.sentences
            assert all(sentence.endswith((".", "say:", "says:", ".)", '."')) for sentence in found.sentences), found


@given(st.integers(0, 10**9))
@settings(max_examples=25, deadline=None)
def test_every_name_of_a_rung_stands_in_its_words(seed: int) -> None:
    """On generated programs, the words of a rung's lines leave out none of the names it reads or writes."""
    text = generated_programs.controller_text(Random(seed))
    project = load_texts({"a.rung": text}, Reporter(CATALOGUE))
    words = RungWords(lexicon_of(understand_texts({"a.rung": text}).program))
    for block in project.blocks:
        if isinstance(block, tree.Rung):
            said = " ".join(each.words for each in words.lines(block, {}))
            written = text.splitlines()[block.span.line : max(o.span.line for o in block.outputs)]
            for name in {word for line in written for word in line.replace("(", " ").replace(")", " ").split()}:
                if name.startswith(("flag_", "in_", "number_")) and "." not in name:
                    assert name.strip(",") in said, (name, said)


def test_a_line_with_nothing_on_it_has_no_words() -> None:
    """A blank line is answered with nothing, never with its neighbour's words."""
    project = load_texts({"shelf.rung": SHELF}, Reporter(CATALOGUE))
    assert tell_line(project.blocks, SHELF, "shelf.rung", 2, None) is None
