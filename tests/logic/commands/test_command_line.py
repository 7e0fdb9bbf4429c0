"""The command line: what each command prints, writes and ends with."""

from __future__ import annotations

import importlib
import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from rungproof.grammar import CATALOGUE
from rungproof.logic.commands.argument_types import seconds, time_ms
from rungproof.logic.commands.arguments import build_parser
from rungproof.logic.commands.main import main
from rungproof.logic.commands.screen import USUAL
from rungproof.logic.teaching.misconceptions.catalogue import MISCONCEPTIONS

CAUTION = "A design aid, not a safety-rated tool."
IN_THE_MODEL = "In the model; nothing was measured on a machine."
FAST = ("--time", "1")


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Runs a command in this process: exit code, standard output, standard error."""

    def run(*arguments: str | Path) -> tuple[int, str, str]:
        code = main([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return run


Said = Callable[..., tuple[int, str, str]]


# ------------------------------------------------------------------------ help


#: What each command takes besides `--json`; all others take neither.
SEEDED = {"check", "run", "replay", "compare", "coverage", "evidence", "exercise", "faults", "grade", "loop", "mutants"}
TIMED = {"check", "compare", "coverage", "mutants", "reaction", "recheck", "restart"}
NEEDED = {"replay": ["p", "s"], "compare": ["p", "q"], "recheck": ["c", "p"], "explain": [], "grade": ["e", "s"]}


def _commands() -> list[str]:
    return re.findall(r"^    ([a-z]+)(?: +\S|$)", build_parser().format_help(), re.MULTILINE)


def test_every_command_has_its_module() -> None:
    """Whatever the parser offers can be executed."""
    listed = _commands()
    folder = Path(importlib.import_module("rungproof.logic.commands").__file__ or "").parent
    names = [path.stem.removesuffix("_command") for path in folder.glob("*_command.py")]
    homes = {name: importlib.import_module(f"rungproof.logic.commands.{name}_command") for name in names}
    assert sorted(listed) == sorted(name for name, home in homes.items() if hasattr(home, "execute"))
    assert listed[:4] == ["new", "check", "run", "replay"]
    assert all(callable(homes[name].execute) for name in listed)


@pytest.mark.parametrize("name", _commands())
@pytest.mark.parametrize(("option", "value", "takers"), [("--seed", "3", SEEDED), ("--time", "2.5", TIMED)])
def test_an_option_that_would_mean_nothing_is_refused(
    capsys: pytest.CaptureFixture[str], name: str, option: str, value: str, takers: set[str]
) -> None:
    """Whoever takes it uses it, and its help says so; the others say that they have none, and do not list it."""
    given = [name, *NEEDED.get(name, ["p"]), "--json", "-", option, value]
    if name in takers:
        arguments = build_parser().parse_args(given)
        assert (arguments.json, str(vars(arguments)[option.strip("-")])) == ("-", value)
    else:
        with pytest.raises(SystemExit) as ended:
            build_parser().parse_args(given)
        assert ended.value.code == 2
        assert f"`{name}` has no {option}: " in capsys.readouterr().err
    with pytest.raises(SystemExit):
        build_parser().parse_args([name, "--help"])
    assert (f"{option} " in capsys.readouterr().out) == (name in takers)


@pytest.mark.parametrize("name", sorted(SEEDED | TIMED))
def test_what_a_command_takes_it_reads(name: str) -> None:
    """An option that nobody looks at would be a promise that nobody keeps."""
    folder = Path(importlib.import_module("rungproof.logic.commands").__file__ or "").parent
    shared = {"check": ["as_found_command"], "run": ["telling"], "replay": ["telling"]}.get(name, [])
    text = "".join((folder / f"{each}.py").read_text(encoding="utf-8") for each in [f"{name}_command", *shared])
    assert ("arguments.seed" in text) == (name in SEEDED)
    assert ("arguments.time" in text) == (name in TIMED)


def test_help_states_the_exit_codes_and_the_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    """A first reader learns what an exit code means and what the tool is not."""
    assert main([]) == 0
    text = capsys.readouterr().out
    assert "130" in text
    assert "not a\nsafety-rated tool" in text


@pytest.mark.parametrize(("text", "ms"), [("20s", 20_000), ("5 min", 300_000), ("1.5 h", 5_400_000), ("7 ms", 7)])
def test_times_are_read_as_people_write_them(text: str, ms: int) -> None:
    """A number and a unit, with or without a blank."""
    assert time_ms(text) == ms


@pytest.mark.parametrize("text", ["", "5", "-1 s", "0 s", "5 parsecs", "1e9 h", "nan s"])
def test_a_time_without_sense_is_refused(text: str) -> None:
    """No unit is guessed, and nothing negative or endless is taken."""
    with pytest.raises(Exception, match="is no time"):
        time_ms(text)


@pytest.mark.parametrize("text", ["0", "-3", "nan", "inf", "soon"])
def test_a_search_time_without_sense_is_refused(text: str) -> None:
    """--time is a number of seconds above 0."""
    with pytest.raises(Exception, match="no number of seconds"):
        seconds(text)


# ------------------------------------------------------------------------- new


def test_new_makes_a_project_that_checks_clean(said: Said, tmp_path: Path) -> None:
    """The starter has no finding, no violated, vacuous or undecided requirement, and is laid out in the one way."""
    project = tmp_path / "first"
    assert said("new", project)[0] == 0
    assert sorted(each.name for each in project.iterdir()) == ["controller.rung", "requirements.rung"]
    code, out, _ = said("check", project, "--time", "3")
    assert code == 0
    assert "findings       none" in out
    assert "4 proved" in out
    assert said("format", project, "--check")[0] == 0


def test_new_fills_an_empty_folder_and_no_other(said: Said, tmp_path: Path) -> None:
    """An empty folder is as good as none; a second `new` finds it full and leaves it alone."""
    (tmp_path / "empty").mkdir()
    assert said("new", tmp_path / "empty")[0] == 0
    mine = tmp_path / "empty" / "controller.rung"
    mine.write_text("mine", encoding="utf-8")
    code, _, err = said("new", tmp_path / "empty")
    assert (code, mine.read_text(encoding="utf-8")) == (2, "mine")
    assert "nothing is overwritten" in err


# ----------------------------------------------------------------------- check


def test_check_prints_a_block_per_requirement_and_the_counts(said: Said, good: Path) -> None:
    """Sentence, restatement, where it looked and how much stand together; the counts come last."""
    code, out, err = said("check", good, *FAST)
    assert (code, err) == (0, "")
    block = out[out.index("R1  proved") : out.index(IN_THE_MODEL)]
    assert '"The stop button ends the run"' in block
    assert "restated   At no instant may pump be on while stop_ok is off." in block
    assert "looked     at the terminals, no faults" in block
    assert "result     holds for every course of the inputs" in block
    assert CAUTION in out
    assert out.rstrip().splitlines()[-1] == "exit code      0: nothing violated, no finding of grade error"
    assert "requirements   1: 1 proved" in out


def test_a_violated_requirement_comes_with_a_story_that_replays(said: Said, wrong: Path, tmp_path: Path) -> None:
    """The printed story stands at the left edge, is what --stories writes, and replays to the same violation."""
    code, out, _ = said("check", wrong, "--stories", tmp_path / "stories", *FAST)
    assert code == 1
    story = tmp_path / "stories" / "R2.rung"
    assert [each.name for each in story.parent.iterdir()] == ["R2.rung"]
    assert "\n" + story.read_text(encoding="utf-8") in out
    assert "1 violated (R2)" in out
    assert "! violated: stop_ok on, pump on, start_pb on" in out
    code, out, _ = said("replay", wrong, story)
    assert code == 1
    assert out.splitlines()[-1].startswith("violated       R2 at ")


def test_a_pasted_story_is_a_regression(said: Said, wrong: Path, tmp_path: Path) -> None:
    """The story is a scenario block: in the file it violates at once, after the mend it no longer does."""
    said("check", wrong, "--stories", tmp_path, *FAST)
    story = (tmp_path / "R2.rung").read_text(encoding="utf-8")
    text = wrong.read_text(encoding="utf-8") + "\n" + story
    wrong.write_text(text, encoding="utf-8")
    code, out, _ = said("check", wrong, *FAST)
    assert code == 1
    assert "violated by scenario" in out
    wrong.write_text(text.replace("    start_pb or pump", "    rising start_pb or pump"), encoding="utf-8")
    assert said("check", wrong, *FAST)[0] == 0


def test_findings_come_first_with_place_and_caret(said: Said, good: Path) -> None:
    """A finding of grade error makes the exit code 2, and the verdicts are printed all the same."""
    text = good.read_text(encoding="utf-8")
    good.write_text(text + "\nrung again\n    stop_ok\n    => pump\n", encoding="utf-8")
    code, out, _ = said("check", good, *FAST)
    assert code == 2
    assert out.startswith(f"{good}:")
    assert "^^^" in out
    assert out.index("two-coils") < out.index("R1  ")


def test_the_same_seed_gives_the_same_answer(said: Said, wrong: Path) -> None:
    """Two checks with one seed print the same, but for the time they took."""

    def answer() -> list[str]:
        return [
            line
            for line in said("check", wrong, "--seed", "7", "--time", "5")[1].splitlines()
            if "searched" not in line
        ]

    assert answer() == answer()


def test_sentences_keep_to_80_columns(said: Said, tmp_path: Path) -> None:
    """Whatever we say ourselves is wrapped; only the file's own lines and drawings may be wider."""
    said("new", tmp_path / "first")
    _, out, _ = said("check", tmp_path / "first", *FAST)
    assert max(map(len, out.splitlines())) <= USUAL


# --------------------------------------------------------------- run and replay


def test_run_tells_events_and_changes_in_order(said: Said, tmp_path: Path) -> None:
    """Times stand on the left, what people do is marked, what was expected stands below."""
    said("new", tmp_path / "first")
    code, out, _ = said("run", tmp_path / "first", "--scenario", "A start")
    assert code == 0
    lines = [line.strip() for line in out.splitlines()]
    order = ["1.000 s > set start_pb on", "1.010 s   start_pb on, motor on", "3.010 s   stop_ok off, motor off"]
    places = [lines.index(line) for line in order if line in lines]
    assert len(places) == 3
    assert places == sorted(places)
    assert "met        From the last event until 5 s later, motor must be off." in out
    assert IN_THE_MODEL in out


def test_run_without_a_scenario_names_those_there_are(said: Said, tmp_path: Path) -> None:
    """Nothing happens in it, for as long as asked."""
    said("new", tmp_path / "first")
    code, out, _ = said("run", tmp_path / "first", "--for", "1s", "--only", "motor")
    assert code == 0
    assert '"A start, a stop, and no restart by itself"' in out


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--scenario", "No such"), "No scenario is called"),
        (("--only", "moter"), "no tag or signal is called `moter`"),
        (("--for", "100000 h"), "too long to be told"),
    ],
)
def test_run_refuses_what_it_cannot_tell(said: Said, good: Path, options: tuple[str, ...], words: str) -> None:
    """A wrong option is one clear message and exit code 2."""
    code, out, err = said("run", good, *options)
    assert (code, out) == (2, "")
    assert words in err


def test_replay_of_what_is_no_story_is_answered_by_its_diagnosis(said: Said, good: Path, tmp_path: Path) -> None:
    """The story file's own mistakes are shown at their own places."""
    story = tmp_path / "story.rung"
    story.write_text('scenario "x"\n    at 0 s press nobody\n', encoding="utf-8")
    code, out, _ = said("replay", good, story)
    assert code == 2
    assert "story.rung:2:" in out
    assert said("replay", good, tmp_path / "none.rung")[0] == 2
    story.write_text("# nothing yet\n", encoding="utf-8")
    code, _, err = said("replay", good, story)
    assert code == 2
    assert "holds no `scenario` block" in err


# ------------------------------------------------------- draw, format, explain


def test_draw_draws_all_or_the_named_rungs(said: Said, tmp_path: Path) -> None:
    """Names choose; a wrong name is answered with those there are; -o writes a file."""
    said("new", tmp_path / "first")
    code, out, _ = said("draw", tmp_path / "first", "trip")
    assert code == 0
    assert "overload_time" in out
    assert "rung reset" not in out
    assert out.endswith("licensed practice decide.\n")
    code, _, err = said("draw", tmp_path / "first", "tripp")
    assert code == 2
    assert "there are: reset, run, shown, trip" in err
    assert said("draw", tmp_path / "first", "-o", tmp_path / "all.txt")[0] == 0
    written = (tmp_path / "all.txt").read_text(encoding="utf-8")
    assert written.count("\nrung ") == 4
    assert written.endswith("licensed practice decide.\n")


def test_draw_writes_svg_into_a_folder_or_one_rung_into_a_file(said: Said, tmp_path: Path) -> None:
    """A folder gets a file for each rung and a page; FILE.svg wants exactly one rung."""
    said("new", tmp_path / "first")
    code, out, _ = said("draw", tmp_path / "first", "-o", tmp_path / "sheets")
    assert code == 0
    assert "4 drawings written" in out
    names = sorted(path.name for path in (tmp_path / "sheets").iterdir())
    assert names == ["index.html", "rung-reset.svg", "rung-run.svg", "rung-shown.svg", "rung-trip.svg"]
    assert said("draw", tmp_path / "first", "trip", "-o", tmp_path / "trip.svg")[0] == 0
    assert (tmp_path / "trip.svg").read_text(encoding="utf-8").startswith("<svg")
    code, _, err = said("draw", tmp_path / "first", "-o", tmp_path / "all.svg")
    assert code == 2
    assert "is one file, and there are 4 rungs to draw" in err
    assert said("draw", tmp_path / "first", "-o", tmp_path / "no" / "such")[0] == 2


def test_draw_tells_where_else_a_name_is_used(said: Said) -> None:
    """With --references: the terminal, the remark, the other rungs and the other contacts, by the names of rungs."""
    tank = Path(__file__).parents[3] / "examples" / "header_tank"
    _, plain, _ = said("draw", tank, "supply_cut", "permissive")
    code, out, _ = said("draw", tank, "supply_cut", "permissive", "--references")
    assert code == 0
    assert "read in" not in plain
    words = " ".join(out.split())
    assert "overflow_trip (line 31): Stays tripped through a power failure; memory; written in overflow" in words
    assert "K1 (line 24): relay; read in motor (K1.2), terminal X1:6 (K1.3)" in words
    assert max(map(len, out.splitlines())) <= 100


def test_draw_refuses_a_file_with_an_unreadable_line(said: Said, good: Path) -> None:
    """A drawing that lacks a line would be signed as if it were whole."""
    good.write_text(
        good.read_text(encoding="utf-8").replace("    stop_ok\n    =>", "    stop ok\n    =>"), encoding="utf-8"
    )
    code, out, _ = said("draw", good)
    assert code == 2
    assert "Nothing is drawn" in out


def test_format_lays_out_once_and_for_all(said: Said, good: Path) -> None:
    """--check changes nothing and ends with 1; format changes; then both are content."""
    tidy = good.read_text(encoding="utf-8")
    good.write_text(
        tidy.replace("    stop_ok\n", "        stop_ok\n").replace("\n", "\r\n"), encoding="utf-8", newline=""
    )
    before = good.read_bytes()
    assert said("format", good, "--check")[0] == 1
    assert good.read_bytes() == before
    assert said("format", good)[0] == 0
    assert good.read_bytes() == tidy.encode()
    assert said("format", good, "--check")[0] == 0


def test_format_leaves_a_half_finished_file_untouched(said: Said, good: Path) -> None:
    """It refuses with the diagnosis; the file keeps every byte."""
    good.write_text(good.read_text(encoding="utf-8") + "\nrung half\n    start_pb or\n", encoding="utf-8")
    before = good.read_bytes()
    code, out, _ = said("format", good)
    assert code == 2
    assert "left as it is" in out
    assert good.read_bytes() == before


def test_explain_knows_every_code_and_the_nearest(said: Said) -> None:
    """Each entry can be explained with a sample; a wrong code is answered with the nearest."""
    for code in CATALOGUE:
        done, out, _ = said("explain", code)
        assert done == 0
        assert out.startswith(f"{code}\n")
        assert all(sign.isprintable() for line in out.splitlines() for sign in line)
    for code in MISCONCEPTIONS:
        done, out, _ = said("explain", code)
        assert done == 0
        assert "requirement R1" in out
        assert "{tag}" not in out
    code, _, err = said("explain", "two-coil")
    assert code == 2
    assert "Did you mean two-coils" in err


def test_explain_shows_a_long_sample_round_the_place_of_the_mistake(said: Said) -> None:
    """Safety findings need a whole plant as a sample: the lines that matter are shown, the place marked."""
    for code, place in {
        "broken-wire-lets-run": "not stop_ok",
        "estop-program-only": "stop_ok       at X1:2   from S2",
        "contact-shared": "from K1.1",
    }.items():
        out = said("explain", code)[1]
        (marked,) = [line for line in out.splitlines() if line.startswith("      > ")]
        assert place in marked
        assert len(out.split("sample.rung, lines ")[1].splitlines()) <= 42
    assert not any("too big to show" in said("explain", code)[1] for code in CATALOGUE)


def test_explain_cuts_the_lines_of_a_text_that_is_wrong_by_its_size(said: Said) -> None:
    """What nobody can read is not printed whole, and the cut is seen."""
    for code in CATALOGUE:
        out = said("explain", code)[1]
        assert max(map(len, out.splitlines())) <= 8 + 200 + len(" ...")
        assert out.count("\n") < 250


def test_explain_tells_a_line_and_a_reason(said: Said, good: Path) -> None:
    """A line within its rung; a tag back to its causes; what is not there is answered with what is."""
    code, out, _ = said("explain", f"{good}:10")
    assert code == 0
    assert "lets power pass while stop_ok is on" in out
    scenario = '\nscenario "Press"\n    at 0 s set stop_ok on\n    at 1 s set start_pb on\n    ends at 2 s\n'
    good.write_text(good.read_text(encoding="utf-8") + scenario, encoding="utf-8")
    code, out, _ = said("explain", good, "--why", "pump")
    assert code == 0
    assert out.startswith("pump is on at 2 s\n")
    assert "Had stop_ok been off, pump would be" in " ".join(out.split())
    for wrong, words in {
        f"{good}:2": "stands nothing",
        str(good): "is a project",
        f"{good.parent / 'none.rung'}:3": "none.rung",
    }.items():
        code, _, err = said("explain", wrong)
        assert code == 2
        assert words in err
    for words, options in {
        "There are: pump, start_pb, stop_ok": ("--why", "pomp"),
        "ends at 2 s": ("--why", "pump", "--at", "3s"),
        "there are": ("--why", "pump", "--scenario", "No"),
        "none.rung": ("--why", "pump", "--story", "none.rung"),
        "goes with --why": ("--at", "3s"),
    }.items():
        code, _, err = said("explain", good, *options)
        assert code == 2
        assert words in err


# -------------------------------------------------------------- internal errors


def test_an_internal_error_is_a_message_with_a_bundle(monkeypatch: pytest.MonkeyPatch, said: Said, good: Path) -> None:
    """No traceback and none of the user's text: what to send, between two marks, and exit code 70."""
    module = importlib.import_module("rungproof.logic.commands.check_command")

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("secret text of the file")

    monkeypatch.delenv("RUNGPROOF_DEBUG", raising=False)
    monkeypatch.setattr(module, "check", broken)
    code, out, err = said("check", good)
    assert (code, out) == (70, "")
    assert "Traceback" not in err
    assert "secret" not in err
    bundle = json.loads(err.split("----- bundle -----")[1])
    assert bundle["error"] == "RuntimeError"
    assert bundle["places"][-1].endswith("broken")
    monkeypatch.setenv("RUNGPROOF_DEBUG", "1")
    with pytest.raises(RuntimeError):
        main(["check", str(good)])


# ------------------------------------------------------------------------ charts


def test_run_shows_and_writes_a_strip_chart(said: Said, good: Path, tmp_path: Path) -> None:
    """--chart takes the place of the account; --chart-svg writes a picture; a wrong place is told at once."""
    code, out, _ = said("run", good, "--for", "1s", "--chart", "--chart-svg", tmp_path / "chart.svg")
    assert code == 0
    assert "off throughout: start_pb, stop_ok, pump" in out
    assert (tmp_path / "chart.svg").read_text(encoding="utf-8").startswith("<svg")
    assert said("run", good, "--chart-svg", tmp_path / "no" / "chart.svg")[0] == 2


def test_run_writes_a_page_to_step_through(said: Said, good: Path, tmp_path: Path) -> None:
    """One file; a run too long for a page is refused in a sentence."""
    code, out, _ = said("run", good, "--for", "1s", "--page", tmp_path / "run.html")
    assert code == 0
    assert "a page of 100 frames to step through" in out
    assert (tmp_path / "run.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    code, _, err = said("run", good, "--for", "5 h", "--page", tmp_path / "run.html", "--only", "pump")
    assert code == 2
    assert "too long for a page" in err


def test_replay_shows_the_instant_of_violation_in_a_chart(said: Said, wrong: Path, tmp_path: Path) -> None:
    """The chart of a counterexample marks where it breaks the requirement."""
    story = tmp_path / "story.rung"
    story.write_text(
        'scenario "told"\n    at 0 s      set stop_ok on\n    at 0 s      set start_pb on\n'
        "    at 20 ms    set stop_ok off\n    at 40 ms    set stop_ok on\n    ends        at 60 ms\n",
        encoding="utf-8",
    )
    code, out, _ = said("replay", wrong, story, "--chart")
    assert code == 1
    assert "0.050 s ! R2 violated" in out
    assert "not stop_ok came: no pump until rising start_pb; violated at 50 ms" in " ".join(out.split())
