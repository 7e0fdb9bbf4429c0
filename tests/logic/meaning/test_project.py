"""Projects: folders, files, what `use` joins, and what it refuses."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from rungproof.logic.meaning.understand import understand, understand_texts

CONTROLLER = """controller "Test" every 10 ms

tags
    a    input   bool
    b    input   bool
    run  output  bool

rung run
    rising a or run
    b
    => run
"""
REQUIREMENTS = 'use "controller.rung"\n\nrequirement R1 "A"\n    never run and not b\n'


def _folder(folder: Path, **files: str) -> Path:
    for name, text in files.items():
        (folder / f"{name}.rung").write_text(text, encoding="utf-8")
    return folder


def test_a_folder_and_a_file_that_uses_the_others_mean_the_same(tmp_path: Path) -> None:
    """PATH may be either."""
    _folder(tmp_path, controller=CONTROLLER, requirements=REQUIREMENTS)
    whole, opened = understand(tmp_path).program, understand(tmp_path / "requirements.rung").program
    assert whole is not None and opened is not None
    assert (whole.controller, whole.requirements) == (opened.controller, opened.requirements)


def test_the_opened_file_brings_only_what_it_uses(tmp_path: Path) -> None:
    """A file of the folder that nobody uses is not read."""
    _folder(tmp_path, controller=CONTROLLER, requirements=REQUIREMENTS)
    program = understand(tmp_path / "controller.rung").program
    assert program is not None and program.requirements == ()


def test_sources_carry_text_path_and_digest(tmp_path: Path) -> None:
    """Evidence names exactly the files that were read."""
    _folder(tmp_path, controller=CONTROLLER)
    source = understand(tmp_path).sources[0]
    assert (source.path, source.text) == (str(tmp_path / "controller.rung"), CONTROLLER)
    assert source.digest == hashlib.sha256(CONTROLLER.encode()).hexdigest()


def test_a_file_used_twice_from_different_files_is_read_once() -> None:
    """A diamond is no mistake."""
    files = {
        "a.rung": 'use "b.rung"\nuse "controller.rung"\n\nrequirement R1 "A"\n    never run and not b\n',
        "b.rung": 'use "controller.rung"\n\nrequirement R2 "B"\n    never run and not b\n',
        "controller.rung": CONTROLLER,
    }
    understood = understand_texts(files)
    assert understood.diagnoses == ()
    assert [source.path for source in understood.sources] == ["controller.rung", "b.rung", "a.rung"]


def test_a_longer_circle_is_shown_whole() -> None:
    """The message walks the path, and the places of the `use` lines stand beside it."""
    files = {"a.rung": 'use "b.rung"\n', "b.rung": 'use "c.rung"\n', "c.rung": 'use "a.rung"\n'}
    found = [d for d in understand_texts(files).diagnoses if d.code == "use-cycle"]
    assert [d.message for d in found] == [
        "The files use each other in a circle: a.rung uses b.rung uses c.rung uses a.rung."
    ]
    assert [(span.file, words) for span, words in found[0].related] == [
        ("a.rung", "b.rung is used here"),
        ("b.rung", "c.rung is used here"),
    ]


@pytest.mark.parametrize("name", ["../out.rung", "/tmp/out.rung", "sub/out.rung", "..\\out.rung", "C:out.rung", ".."])
def test_use_stays_in_its_folder(name: str, tmp_path: Path) -> None:
    """Whatever spelling leads out of the folder is refused, even where such a file exists."""
    inner = tmp_path / "inner"
    (inner / "sub").mkdir(parents=True)
    _folder(tmp_path, out=CONTROLLER)
    _folder(inner / "sub", out=CONTROLLER)
    _folder(inner, a=f'use "{name}"\n')
    assert "use-outside-folder" in [d.code for d in understand(inner / "a.rung").diagnoses]


def test_use_does_not_follow_a_link_out_of_the_folder(tmp_path: Path) -> None:
    """A link is a way out like any other."""
    inner = tmp_path / "inner"
    inner.mkdir()
    _folder(tmp_path, controller=CONTROLLER)
    (inner / "controller.rung").symlink_to(tmp_path / "controller.rung")
    _folder(inner, a=REQUIREMENTS)
    understood = understand(inner / "a.rung")
    assert [d.code for d in understood.diagnoses] == ["use-outside-folder"]
    assert [Path(s.path).name for s in understood.sources] == ["a.rung"]


def test_a_missing_file_is_the_only_thing_said() -> None:
    """Nothing is called unknown that the missing file may hold; the nearest name is offered."""
    understood = understand_texts(
        {"a.rung": REQUIREMENTS.replace("controller.rung", "contrler.rung"), "controller.rung": CONTROLLER}
    )
    assert [(d.code, d.mend) for d in understood.diagnoses] == [
        ("use-missing", 'did you mean `use "controller.rung"`?')
    ]
    assert understood.program is None


def test_two_projects_in_one_folder_are_told_apart(tmp_path: Path) -> None:
    """A folder holds one project: the second controller is pointed at."""
    _folder(tmp_path, a=CONTROLLER, b=CONTROLLER)
    assert "two-controllers" in [d.code for d in understand(tmp_path).diagnoses]


def test_own_parts_come_from_the_same_folder(tmp_path: Path) -> None:
    """A user's own part in a Python file beside the rungs; kinds of ours stay."""
    own = """from rungproof.plant.part import Output, Part, Variable


class Sundial(Part):
    \"\"\"Shows whether it is noon: never.\"\"\"

    kind = "sundial"
    variables = (Variable("noon", "bool", False),)
    outputs = (Output("noon", "bool"),)

    def step(self, ops, state, inputs, faults):
        return {"noon": state["noon"]}
"""
    text = 'plant "Yard" every 10 ms parts from "own.py"\n    sundial D1\n    supply P24   24 V\n\n'
    text += 'requirement R1 "A"\n    never D1.noon\n'
    (tmp_path / "own.py").write_text(own, encoding="utf-8")
    _folder(tmp_path, a=text)
    on_disk, in_memory = understand(tmp_path), understand_texts({"a.rung": text, "own.py": own})
    assert on_disk.diagnoses == in_memory.diagnoses == ()
    assert on_disk.program is not None and in_memory.program is not None


def test_a_part_that_cannot_be_made_is_a_mistake_at_its_line() -> None:
    """Whatever a user's own class raises as it is made stands at the part's line, with the line in its file."""
    own = """from rungproof.plant import Output, Part, Variable


class Sundial(Part):
    kind = "sundial"
    variables = (Variable("noon", "bool", False),)
    outputs = (Output("noon", "bool"),)

    def __init__(self, name, given, dt_ms):
        1 / 0

    def step(self, ops, state, inputs, faults):
        return {"noon": state["noon"]}
"""
    text = 'plant "Yard" every 10 ms parts from "own.py"\n    sundial D1\n    supply P24   24 V\n'
    found = understand_texts({"a.rung": text, "own.py": own}).diagnoses
    assert [(d.code, d.span.line) for d in found] == [("part-impossible", 2)]
    assert "ZeroDivisionError: division by zero in line 10" in found[0].message
