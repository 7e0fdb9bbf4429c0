"""The commands and what each of them takes. Light: `--help` must not wait for anything."""

from __future__ import annotations

import argparse

from rungproof.logic.commands.argument_types import (
    columns,
    path,
    percent,
    plant_hours,
    proof_seconds,
    seconds,
    seed,
    time_ms,
)


def _seed(command: argparse.ArgumentParser) -> None:
    command.add_argument("--seed", type=seed, default=0, metavar="N", help="of all that is drawn by chance (0)")


def _time(command: argparse.ArgumentParser, words: str) -> None:
    command.add_argument("--time", type=seconds, metavar="SECONDS", help=words)


def _path(command: argparse.ArgumentParser, words: str = "a project's folder, or a .rung file") -> None:
    command.add_argument("path", type=path, metavar="PATH", help=words)


def _new(command: argparse.ArgumentParser) -> None:
    _path(command, "the folder to make; nothing that is there is overwritten")


def _check(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("--stories", metavar="DIR", help="write the story of each violation as a file for `replay`")
    command.add_argument(
        "--as-found", type=path, metavar="FILE", help="check with the errors of a filled-in readings.csv"
    )
    command.add_argument("--junit", type=path, metavar="FILE", help="the verdicts as JUnit XML, for build servers")
    command.add_argument("--certificates", metavar="DIR", help="write the certificate of each proof, for `recheck`")
    command.add_argument(
        "--proof",
        type=proof_seconds,
        metavar="SECONDS",
        help="how long to try a proof of each requirement (4); 0: none",
    )
    command.add_argument(
        "--hours",
        type=plant_hours,
        metavar="N",
        help="run N more hours of the machine; ended, the same command goes on",
    )
    command.add_argument("--record", type=path, metavar="FILE", help="where --hours keeps what is done (beside PATH)")
    _seed(command)
    _time(command, "how long to search (11.5 to 26)")


def _run(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("--scenario", metavar="NAME", help="the scenario to run, or the beginning of its name")
    command.add_argument("--for", dest="for_ms", type=time_ms, metavar="TIME", help="how long, such as 20s or '5 min'")
    _account(command)


def _account(command: argparse.ArgumentParser) -> None:
    command.add_argument("--every", dest="every_ms", type=time_ms, metavar="TIME", help="tell numbers at this interval")
    command.add_argument("--only", metavar="NAMES", help="tags, signals or parts to tell and to write, commas between")
    command.add_argument("--chart", action="store_true", help="show the run as a strip chart instead of telling it")
    command.add_argument("--chart-svg", type=path, metavar="FILE", help="write the strip chart as a picture (SVG)")
    command.add_argument("--page", type=path, metavar="FILE", help="write a page (HTML) to step through the run")
    command.add_argument("--vcd", type=path, metavar="FILE", help="write the run as a value change dump, for viewers")
    command.add_argument("--csv", type=path, metavar="FILE", help="write it as a table, one row an instant or --every")
    command.add_argument("--parquet", type=path, metavar="FILE", help="the same table as Parquet (wants pyarrow)")
    _seed(command)


def _replay(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("story", type=path, metavar="STORY", help="a file with one scenario block")
    _account(command)


def _compare(command: argparse.ArgumentParser) -> None:
    command.add_argument("path", type=path, metavar="OLD", help="the version that was: a folder, or a .rung file")
    command.add_argument("new", type=path, metavar="NEW", help="the version that is to be")
    command.add_argument("--story", metavar="FILE", help="write the story that tells them apart to a file")
    command.add_argument("--certificates", metavar="DIR", help="say which of these proofs of OLD still stand in NEW")
    _seed(command)
    _time(command, "how long to try a proof and then a search (20)")


def _reaction(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("--stories", metavar="DIR", help="write the story that takes longest, for each chain")
    _time(command, "how long to try each proof (2)")


def _recheck(command: argparse.ArgumentParser) -> None:
    command.add_argument("certificate", type=path, metavar="CERTIFICATE", help="a file with the proof of a requirement")
    _path(command)
    _time(command, "how long the other solver may take (60)")


def _draw(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("rungs", metavar="RUNG", nargs="*", help="the rungs to draw (all)")
    command.add_argument(
        "-o",
        "--output",
        type=path,
        metavar="WHERE",
        help="a folder: SVG files with a page that shows them; FILE.svg: one rung; FILE.txt: the text drawing",
    )
    command.add_argument(
        "--references", action="store_true", help="say below each rung where else its names are written and read"
    )
    command.add_argument("--width", type=columns, default=100, metavar="COLUMNS", help="of the drawing (100)")


def _mutants(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("rungs", metavar="RUNG", nargs="*", help="the rungs to put mistakes into (all)")
    _seed(command)
    _time(command, "how long to search (10)")


def _coverage(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument(
        "--proof",
        type=proof_seconds,
        metavar="SECONDS",
        help="how long to try a proof that a missing row cannot come (2); 0: none",
    )
    _seed(command)
    _time(command, "how long to search (8)")


def _format(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("--check", action="store_true", help="change nothing; exit code 1 if a file would change")


def _explain(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "what",
        metavar="CODE|PATH:LINE|PATH",
        nargs="?",
        help="the code of a diagnosis (none: all codes); a line of a file, such as fan.rung:12; with --why, a project",
    )
    command.add_argument("--why", metavar="TAG", help="why TAG has its value, back to the inputs")
    command.add_argument("--at", dest="at_ms", type=time_ms, metavar="TIME", help="when (as the story ends)")
    command.add_argument("--scenario", metavar="NAME", help="in this scenario, or the one whose name begins so")
    command.add_argument("--story", type=path, metavar="FILE", help="in the first scenario of a story file")


def _restart(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("--stories", metavar="DIR", help="write the story of each restart as a file for `replay`")
    _time(command, "how long to look (120)")


def _faults(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("--pairs", action="store_true", help="two faults, too: a hidden one first, then another")
    command.add_argument("--replay", action="store_true", help="run every row's story again in the reference engine")
    command.add_argument("--stories", type=path, metavar="DIR", help="write each row's story into this folder")
    _seed(command)


def _loop(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("--for", dest="for_ms", type=time_ms, metavar="TIME", help="how long each pattern lasts (1 h)")
    command.add_argument("--demand", type=path, metavar="FILE", help="a recorded draw-off: one number a line")
    command.add_argument("--band", type=percent, default=2.0, metavar="PERCENT", help="of the setpoint: settled (2)")
    _seed(command)


def _sheets(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("-o", "--output", type=path, metavar="DIR", default="sheets", help="the folder (`sheets`)")
    command.add_argument(
        "--tolerance", type=percent, default=0.5, metavar="PERCENT", help="of an analog signal's span (0.5)"
    )


def _evidence(command: argparse.ArgumentParser) -> None:
    _path(command)
    command.add_argument("-o", "--output", type=path, metavar="DIR", default="evidence", help="the folder (`evidence`)")
    parts = ("faults", "restart", "coverage")
    command.add_argument(
        "--without", choices=parts, action="append", default=[], help="leave this part out; repeatable"
    )
    for part in parts:
        words = f"look at this part for as long as `rungproof {part}` does, not by the report's shorter plan"
        command.add_argument(f"--{part}", dest="whole", action="append_const", const=part, default=[], help=words)
    command.add_argument(
        "--stale", action="store_true", help="make nothing: say whether the report in DIR is of PATH as it is"
    )
    _seed(command)


def _exercise(command: argparse.ArgumentParser) -> None:
    command.add_argument("exercise", type=path, metavar="EXERCISE", help="an exercise's folder")
    command.add_argument("-o", "--output", type=path, metavar="FOLDER", help="write the sheet to a folder")
    command.add_argument("--student", metavar="NAME", help="whose sheet it is")
    command.add_argument("--variants", action="store_true", help="names and presets of the student's own, from --seed")
    _seed(command)


def _grade(command: argparse.ArgumentParser) -> None:
    command.add_argument("exercise", type=path, metavar="EXERCISE", help="an exercise's folder")
    command.add_argument("submissions", type=path, metavar="SUBMISSION", nargs="+", help="files or folders handed in")
    command.add_argument(
        "--hints",
        type=int,
        choices=range(4),
        default=1,
        help="how far: 1 a question, 2 the place too, 3 the rule too (1)",
    )
    command.add_argument("--reveal", action="store_true", help="show what hidden requirements say")
    command.add_argument("--variants", action="store_true", help="each student had a variant; same --seed as before")
    command.add_argument("--csv", metavar="FILE", help="write a table for the teacher")
    command.add_argument("--html", metavar="FOLDER", help="write a page for each student, and one for the teacher")
    _seed(command)


#: Name, what it does, its exit codes, its arguments.
COMMANDS = (
    ("new", "make a starter project that checks clean", "0 made, 2 it could not be made", _new),
    (
        "check",
        "find mistakes in the text and attack every requirement",
        "0 nothing violated, 1 something violated, 2 the files cannot be run or hold a finding of grade error, "
        "3 nothing violated but something undecided or vacuous",
        _check,
    ),
    (
        "run",
        "run a scenario, or nothing at all, and tell what happens",
        "0 as expected, 1 not as expected or a requirement is violated, 2 the files cannot be run, 3 undecided",
        _run,
    ),
    (
        "replay",
        "run a story again; exit code 1 if it violates again",
        "0 it violates nothing, 1 it violates, 2 the files or the story cannot be run",
        _replay,
    ),
    (
        "compare",
        "prove that two versions of a controller do the same, or tell them apart by a story",
        "0 proved equal, 1 different, 2 the files cannot be run, 3 undecided",
        _compare,
    ),
    (
        "reaction",
        "prove how long it takes at the most from a cause to its effect",
        "0 every chain is proved to end in time, 2 the files cannot be run, 3 not every one, or there is none",
        _reaction,
    ),
    (
        "recheck",
        "check a proof again, by another solver through other code",
        "0 verified, 1 stale (what it rests on changed) or refused (it is no proof), "
        "2 the files or the certificate cannot be read, 3 unknown",
        _recheck,
    ),
    (
        "draw",
        "draw rungs in the symbols of IEC 61131-3, one to one with the file",
        "0 drawn, 2 a line cannot be read or a name is wrong",
        _draw,
    ),
    (
        "evidence",
        "write a report to read and sign: assumptions, hazards, verdicts, drawings, what was run",
        "as `check`; with --stale: 0 the report is of the files as they are, 1 stale, 2 it cannot be read",
        _evidence,
    ),
    (
        "sheets",
        "write the bench sheets: wiring, readings, causes and effects, tests, as HTML and CSV",
        "0 written, 2 the files cannot be run or the folder cannot be written",
        _sheets,
    ),
    (
        "faults",
        "try every fault of every part, wire, terminal, supply and of the program, and say what shows and what happens",
        "0 what is said to hold with any one fault holds here, 1 it does not, 2 the files cannot be run, "
        "3 no fault was tried",
        _faults,
    ),
    (
        "independence",
        "for each hazard: who guards it, what defeats each layer, and what layers share",
        "0 nothing to warn of, 1 a warning, 2 the files cannot be run, 3 a hazard could not be looked at",
        _path,
    ),
    (
        "restart",
        "for each thing that moves: does anything but a fresh press start it again",
        "0 no restart was found, 1 something restarts, 2 the files cannot be run, "
        "3 not all was tried, or a thing was never seen to start",
        _restart,
    ),
    (
        "mutants",
        "put mistakes that people make into the rungs, and tell which of them nobody would notice",
        "0 nobody survives, 1 somebody does, 2 the files cannot be run, 3 somebody is undecided",
        _mutants,
    ),
    (
        "loop",
        "run every control loop under a step, a random and a recorded draw-off, and give its figures",
        "0 all loops run, 2 the files cannot be run, 3 a loop could not be run",
        _loop,
    ),
    (
        "coverage",
        "tell which conditions of every rung were shown to decide, which cannot be, and which are missing",
        "0 nothing is missing, 2 the files cannot be run, 3 something is missing",
        _coverage,
    ),
    (
        "format",
        "lay files out in the one way",
        "0 laid out, 1 with --check: a file would change, 2 a file has mistakes and was left as it is",
        _format,
    ),
    (
        "explain",
        "say at length what a diagnosis means, what a line does, or why a tag has its value",
        "0 told, 2 there is no such code, line, tag or story, or the files cannot be run",
        _explain,
    ),
    ("exercise", "hand out an exercise: its task, and a student's sheet", "0 done, 2 it cannot be", _exercise),
    (
        "grade",
        "grade what students handed in: verdicts, stories, points, hints in stages",
        "0 all points, 1 something does not hold, 2 something was refused or does not run, or the exercise is wrong",
        _grade,
    ),
)
