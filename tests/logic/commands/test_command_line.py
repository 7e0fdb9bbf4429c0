"""The command line: what each command prints, writes and ends with."""

from __future__ import annotations

import importlib
import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from rungproof.logic.commands.argument_types import seconds, time_ms
from rungproof.logic.commands.arguments import build_parser
from rungproof.logic.commands.main import main
from rungproof.logic.commands.screen import USUAL

CAUTION = "A design aid, not a safety-rated tool."
IN_THE_MODEL = "In the model; nothing was measured on a machine."
FAST = ("--time", "1")


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
