"""Two hundred submissions, most of them meant ill: each is graded or refused with a reason."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from rungproof.logic.api import grade
from rungproof.logic.teaching.exercise import load_exercise
from rungproof.logic.teaching.grade import NO_LICENCE, Grade, Item
from rungproof.logic.teaching.grade_tables import grade_pages, grades_csv

EXERCISE = Path(__file__).parents[3] / "examples" / "exercises" / "01_seal_in"
SOLUTION = (EXERCISE / "solution.rung").read_text(encoding="utf-8")
WRONG = [path.read_text(encoding="utf-8") for path in sorted((EXERCISE / "wrong").glob("*.rung"))]
#: What stands in the hidden requirements alone.
SECRETS = ("Letting the stop go", "Power that comes back starts nothing", "R5", "R6")

SLOW = "\n".join(
    f"rung r{n}\n    {'rising ' if n % 3 else ''}start_pb or m{n}\n    not m{(n * 7 + 3) % 200}\n"
    f"    on-delay {n + 5} ms as t{n}\n    => m{n}\n"
    for n in range(200)
)
SLOW_TAGS = "tags\n" + "".join(f"    m{n} memory bool\n" for n in range(200))


def text(words: str) -> Callable[[Path], None]:
    return lambda path: path.with_suffix(".rung").write_text(words, encoding="utf-8")  # type: ignore[func-returns-value]


def data(content: bytes) -> Callable[[Path], None]:
    return lambda path: path.with_suffix(".rung").write_bytes(content)  # type: ignore[func-returns-value]


def link(target: Path) -> Callable[[Path], None]:
    return lambda path: path.with_suffix(".rung").symlink_to(target)


def folder(**files: str) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        path.mkdir()
        for name, words in files.items():
            (path / name.replace("__", ".")).write_text(words, encoding="utf-8")

    return make


def linked_folder(path: Path) -> None:
    path.mkdir()
    (path / "mine.rung").write_text('use "theirs.rung"\n' + SOLUTION, encoding="utf-8")
    (path / "theirs.rung").symlink_to(EXERCISE / "hidden.rung")


def pipe(path: Path) -> None:
    os.mkfifo(path.with_suffix(".rung"))


def crowd(path: Path) -> None:
    path.mkdir()
    for number in range(200):
        (path / f"f{number}.rung").write_text(f"rung r{number}\n    start_pb\n    => fan\n", encoding="utf-8")


EVIL = 'open("{marker}", "w").write("ran")\n'

#: Kinds of submissions: how they are made, what may come of them, words of the reason.
KINDS: list[tuple[str, Callable[[Path], None], str, str]] = [
    ("ten_megabytes", text("# " + "x" * 10_000_000), "refused", "bigger than"),
    ("hundred_thousand_rungs", text("rung a\n    start_pb\n    => fan\n\n" * 100_000), "refused", "bigger than"),
    ("six_thousand_rungs", text("rung a\n    start_pb\n    => fan\n\n" * 6000), "refused", "rungs"),
    ("deep", text("rung a\n    " + "(" * 30_000 + "start_pb" + ")" * 30_000 + "\n    => fan\n"), "", ""),
    ("nots", text("rung a\n    " + "not " * 20_000 + "start_pb\n    => fan\n"), "", ""),
    ("long_or", text("rung a\n    " + " or ".join(["start_pb"] * 12_000) + "\n    => fan\n"), "", ""),
    ("outside", text('use "../../01_seal_in/hidden.rung"\n' + SOLUTION), "does not run", ""),
    ("absolute", text(f'use "{EXERCISE / "hidden.rung"}"\n' + SOLUTION), "does not run", ""),
    ("link_to_solution", link(EXERCISE / "solution.rung"), "refused", "link"),
    ("link_to_hidden", link(EXERCISE / "hidden.rung"), "refused", "link"),
    ("link_to_nowhere", link(Path("/dev/zero")), "refused", "link"),
    ("linked_folder", linked_folder, "refused", "link"),
    ("our_names", folder(hidden__rung=WRONG[0], given__rung='requirement R1 "x"\n    never fan\n'), "graded", ""),
    ("our_requirements", text(WRONG[0] + 'requirement R4 "x"\n    never fan and not fan\n'), "graded", ""),
    ("markup", text('rung a "<script>alert(1)</script>"\n    <b>start_pb\n    => fan\n'), "does not run", ""),
    ("script_remark", text('rung fan "<img src=x onerror=alert(1)>"\n    start_pb\n    => fan\n'), "graded", ""),
    ("=HYPERLINK(\"x\")", text("=1+1\n"), "does not run", ""),
    ("+formula", text(SOLUTION), "graded", ""),
    ("-formula", text(WRONG[0]), "graded", ""),
    ("@formula", text(WRONG[1]), "graded", ""),
    ("<b>bold</b>".replace("/", "_"), text(SOLUTION), "graded", ""),
    ("python", folder(answer__rung=SOLUTION, conftest__py=EVIL, rungproof__py=EVIL), "graded", ""),
    ("own_parts", folder(answer__rung=SOLUTION + '\nplant "P" every 5 ms parts from "evil.py"\n    lamp P1\n',
                         evil__py=EVIL), "", ""),
    ("binary", data(bytes(range(256)) * 300), "refused", "UTF-8"),
    ("nulls", data(b"rung a\n\0\0\0\n"), "refused", "null"),
    ("utf16", data(SOLUTION.encode("utf-16")), "refused", "UTF-8"),
    ("empty", text(""), "does not run", "no block"),
    ("nothing", lambda path: path.mkdir(), "refused", "no .rung"),
    ("missing", lambda path: None, "refused", "no such"),
    ("pipe", pipe, "refused", "no file"),
    ("crowd", crowd, "refused", "more than"),
    ("slow", text(SLOW_TAGS + SLOW), "", ""),
    ("huge_numbers", text(f"rung a\n    start_pb\n    on-delay {'9' * 4000} h as t\n    => fan\n"), "does not run", ""),
    ("long_delay", text("rung a\n    start_pb\n    on-delay 999999 h as t\n    => fan\n"), "", ""),
    ("long_name", text(f"tags\n    {'a' * 90_000} memory bool\nrung a\n    start_pb\n    => fan\n"), "", ""),
    ("new_output", text("tags\n    fan2 output bool\nrung a\n    start_pb\n    => fan2\n"), "refused", "terminal"),
    ("changed_input", text("tags\n    stop_ok input bool\n    fan memory bool\n" + SOLUTION), "graded", ""),
    ("slow_scan", text('controller "Mine" every 1 ms\n' + SOLUTION), "graded", ""),
    ("two_coils", text(SOLUTION + "\nrung again\n    start_pb\n    => fan\n"), "graded", ""),
    ("braces", text('rung a "{0.__class__} %s {tag}"\n    start_pb\n    => fan\n'), "graded", ""),
]  # fmt: skip


def hand_in(where: Path) -> list[Path]:
    """Two hundred submissions: every kind of them over and over, between honest ones."""
    paths: list[Path] = []
    number = 0
    while len(paths) < 200:
        name, make, _, _ = KINDS[number % len(KINDS)]
        rounds = where / f"round{number // len(KINDS)}"
        rounds.mkdir(exist_ok=True)
        path = rounds / name
        make(path)
        paths.append(path if path.is_dir() or name in ("missing", "nothing") else path.with_suffix(".rung"))
        number += 1
        if len(paths) < 200 and number % 3 == 0:
            honest = where / f"honest{number}.rung"
            honest.write_text((SOLUTION, *WRONG)[number % (1 + len(WRONG))], encoding="utf-8")
            paths.append(honest)
    return paths


@pytest.mark.slow
def test_two_hundred_submissions_are_graded_or_refused(tmp_path: Path) -> None:
    """Each has its reason; the honest ones are graded as ever; nothing of theirs was run, nothing of ours told."""
    marker = tmp_path / "marker"
    for kind in ("python", "own_parts"):
        assert kind in [name for name, *_ in KINDS]
    paths = hand_in(tmp_path)
    for evil in tmp_path.rglob("*.py"):
        evil.write_text(EVIL.format(marker=marker), encoding="utf-8")
    grades = grade(EXERCISE, paths)
    assert len(grades) == 200
    for path, each in zip(paths, grades, strict=True):
        _expect(path, each)
    assert not marker.exists()
    _nothing_told(grades)
    _harmless_table(grades)


def _expect(path: Path, each: Grade) -> None:
    stem = path.name.removesuffix(".rung")
    if stem.startswith("honest"):
        right = path.read_text(encoding="utf-8") == SOLUTION
        assert each.outcome == "graded", (path, each.reason)
        assert (each.points == each.worth) == right, path
        return
    _, _, outcome, words = next(kind for kind in KINDS if kind[0] == stem)
    assert each.outcome == (outcome or each.outcome), (path, each.outcome, each.reason)
    assert words in each.reason, (path, each.reason)
    assert each.outcome == "graded" or each.reason, path
    assert "Traceback" not in each.reason
    assert "internal error" not in each.reason, (path, each.reason)


def _nothing_told(grades: list[Grade]) -> None:
    exercise = load_exercise(EXERCISE)
    pages = grade_pages(exercise, grades, 3)
    told = [*pages.values(), grades_csv(grades, 3), *(str(each.to_json(3)) for each in grades)]
    for text_ in told:
        for secret in SECRETS:
            assert secret not in text_, secret
    for name, page in pages.items():
        assert NO_LICENCE in page
        assert "<script>alert" not in page, name
        assert "<img" not in page, name
        assert "<b>bold" not in page, name
    assert len(pages) == 201


def _harmless_table(grades: list[Grade]) -> None:
    rows = list(csv.reader(io.StringIO(grades_csv(grades, 3))))
    assert len(rows) == 201
    for row in rows:
        for cell in row:
            assert not cell.startswith(("=", "+", "-", "@", "\t", "\r")), cell


def test_whoever_is_refused_has_none_of_the_points_that_there_are() -> None:
    """The table says `0 of 5` of him too, never `0 of 0`: a teacher adds such columns up."""
    item = Item("R1", False, "It runs", "", "proved", 5, 5)
    grades = [Grade("anna", "seal-in", "graded", (item,)), Grade("bo", "seal-in", "refused", reason="it is a link")]
    rows = list(csv.DictReader(io.StringIO(grades_csv(grades, 1))))
    assert [(each["points"], each["of"]) for each in rows] == [("5", "5"), ("0", "5")]
    assert "<td>0 of 5</td>" in grade_pages(load_exercise(EXERCISE), grades, 1)["index.html"]


def test_a_submission_that_takes_too_long_is_stopped_and_delays_nobody(tmp_path: Path) -> None:
    """Its process ends at its deadline with a reason; the next one is graded."""
    from rungproof.logic.teaching.handed import handed_in
    from rungproof.logic.teaching.sandbox import grade_all

    slow, good = tmp_path / "slow.rung", tmp_path / "good.rung"
    slow.write_text(SLOW_TAGS + SLOW, encoding="utf-8")
    good.write_text(SOLUTION, encoding="utf-8")
    exercise = load_exercise(EXERCISE)
    first, second = grade_all(exercise, handed_in([slow, good]), workers=1, seconds=1.0)
    assert first.outcome == "stopped"
    assert "time" in first.reason
    assert second.outcome in ("graded", "stopped")


@pytest.mark.parametrize(
    "kind", [kind for kind in KINDS if kind[2] == "refused" and kind[0] != "crowd"], ids=lambda k: k[0]
)
def test_what_is_refused_is_refused_before_it_is_read(
    kind: tuple[str, Callable[[Path], None], str, str], tmp_path: Path
) -> None:
    """Size, links, pipes and encodings are looked at first; the reason is in words that a student understands."""
    from rungproof.logic.teaching.grading import grade_path

    name, make, _, words = kind
    make(tmp_path / name)
    plain = tmp_path / name
    path = plain if plain.is_dir() or name in ("missing", "nothing") else plain.with_suffix(".rung")
    result = grade_path(load_exercise(EXERCISE), path, "student")
    assert result.outcome == "refused"
    assert words in result.reason
