"""Understanding whole projects: independent mistakes, no noise, no traceback, examples clean."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rungproof.grammar.catalogue.findings_plant import SOUND
from rungproof.logic.meaning.understand import understand, understand_texts

EXAMPLES = Path(__file__).parents[3] / "examples"
RIGS = sorted(p for p in EXAMPLES.iterdir() if p.is_dir() and p.name != "mistakes" and list(p.glob("*.rung")))
CORRECTED = sorted((EXAMPLES / "mistakes").glob("*_corrected.rung"))


def test_five_mistakes_give_five_answers_in_order_of_place() -> None:
    """A lost tag line, a wrong clause, a misspelt contact, a misspelt wire and a misspelt fault."""
    text = SOUND.files["sample.rung"]
    for old, new in (
        ("    stop_ok       input    bool\n", "    stop_ok       inptu    bool\n"),
        ("    rising start_pb or fill\n", "    rising start_bp or fill\n"),
        ("diameter 60 cm", "diamter 60 cm"),
        ("        LS1\n", "        LS2\n"),
        ("from S1\n", "from S11\n"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    found = understand_texts({"a.rung": text}).diagnoses
    lines = text.splitlines()
    assert [(lines[d.span.line - 1].split()[0], d.code) for d in found][1:] == [
        ("rising", "unknown-name"),
        ("tank", "clause-shape"),
        ("LS2", "unknown-contact"),
        ("start_pb", "wire-source-unknown"),
    ]
    assert lines[found[0].span.line - 1].split()[0] == "stop_ok"
    assert len(found) == 5


@pytest.mark.parametrize(
    ("old", "new", "mend"),
    [
        ('controller "Sample" every 10 ms', 'controller "Sample" every 10', "write `10 ms`"),
        ('controller "Sample" every 10 ms', 'controller "Sample" every 10..20', "write `20 ms`"),
        ('plant "Sample" every 5 ms', 'plant "Sample" every 5', "write `5 ms`"),
        ("    => fill", "    on-delay 5 as held\n    => fill", "write `5 s` or `5 ms`"),
        (
            "    => fill",
            "    accumulating on-delay 5 as held clear by start_pb\n    => fill",
            "write `5 s` or `5 ms`",
        ),
        ("    => fill", "    on-delay 5\n    => fill", "write `on-delay 5 s as NAME` or `on-delay 5 ms as NAME`"),
        ("pulls in 20 ms", "pulls in 20", "write `20 ms`, if that is what it is"),
        ("wiring\n", 'requirement R1 "A"\n    whenever fill then fill within 5\n\nwiring\n', "write `5 s` or `5 ms`"),
    ],
)
def test_a_time_without_its_unit_is_one_mistake(old: str, new: str, mend: str) -> None:
    """With the unit that is likely meant there; what stands on the line is not called wrong a second time."""
    text = SOUND.files["sample.rung"]
    assert text.count(old) == 1
    found = [d for d in understand_texts({"a.rung": text.replace(old, new)}).diagnoses if d.grade == "error"]
    assert [d.mend for d in found] == [mend]


def test_a_header_that_cannot_be_read_is_the_only_thing_said() -> None:
    """Everything under it counts as there; nothing is called missing or unknown."""
    for old in ('controller "Sample" every', 'plant "Sample" every', "wiring\n", "tags\n"):
        text = SOUND.files["sample.rung"].replace(old, "x" + old)
        assert len(understand_texts({"a.rung": text}).diagnoses) == 1, old


def test_a_finding_of_grade_error_leaves_the_program_to_run() -> None:
    """Verdicts are still wanted: only the exit code changes."""
    text = SOUND.files["sample.rung"].replace("13107..65535", "0..65535")
    understood = understand_texts({"a.rung": text})
    assert [d.code for d in understood.diagnoses] == ["scaling-disagrees"]
    assert understood.has_errors and understood.program is not None


def test_a_plant_without_a_controller_is_a_project() -> None:
    """Circuits alone can be checked."""
    head, _, rest = SOUND.files["sample.rung"].partition('plant "Sample"')
    plant, _, _ = ('plant "Sample"' + rest).partition("wiring\n")
    assert head
    text = plant.replace("        fill\n", "        S2\n")
    understood = understand_texts({"a.rung": text + '\nrequirement R1 "A"\n    always t.level < 100 cm\n'})
    assert understood.diagnoses == ()
    assert understood.program is not None and understood.program.controller is None


@pytest.mark.parametrize("rig", RIGS, ids=lambda path: path.name)
def test_an_example_can_run_and_holds_no_finding_of_grade_error(rig: Path) -> None:
    """The rigs of our own are the first that every check must accept."""
    understood = understand(rig)
    assert understood.program is not None
    assert [d for d in understood.diagnoses if d.grade == "error"] == []


@pytest.mark.parametrize("file", CORRECTED, ids=lambda path: path.stem)
def test_a_corrected_mistake_has_no_finding_of_grade_error(file: Path) -> None:
    """Else its exit code could not be 0."""
    understood = understand(file)
    assert understood.program is not None
    assert [d for d in understood.diagnoses if d.grade == "error"] == []


def test_the_scaling_for_the_wrong_range_is_found_without_running_anything() -> None:
    """The one mistake of the collection that plant and wiring alone give away."""
    found = understand(EXAMPLES / "mistakes" / "scaling_for_the_wrong_range.rung").diagnoses
    assert "scaling-disagrees" in [d.code for d in found]


LINES = tuple(
    line for file in sorted((EXAMPLES / "header_tank").glob("*.rung")) for line in file.read_text("utf-8").splitlines()
)
WORDS = tuple(sorted({word for line in LINES for word in line.split()}))


@st.composite
def _spoilt(draw: st.DrawFn) -> str:
    """The header tank's three files as one, with lines lost, doubled, moved, and words exchanged."""
    lines = [line for line in LINES if not line.startswith("use ")]
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        what = draw(st.sampled_from(["lose", "double", "move", "exchange", "cut"]))
        if what == "lose":
            del lines[at]
        elif what == "double":
            lines.insert(draw(st.integers(0, len(lines))), lines[at])
        elif what == "move":
            lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(at))
        elif what == "cut":
            lines[at] = lines[at][: draw(st.integers(0, len(lines[at])))]
        elif lines[at].split():
            words = lines[at].split()
            old, new = draw(st.sampled_from(words)), draw(st.sampled_from(WORDS))
            lines[at] = lines[at].replace(old, new, 1)
    return "\n".join(lines) + "\n"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_spoilt())
def test_no_spoilt_project_raises_or_goes_without_an_answer(text: str) -> None:
    """Either it can run, or a diagnosis of grade error with a place inside the file says why not."""
    understood = understand_texts({"spoilt.rung": text})
    assert understood.program is not None or understood.has_errors
    lines = text.splitlines()
    for diagnosis in understood.diagnoses:
        assert 1 <= diagnosis.span.line <= len(lines) + 1
        assert "{" not in diagnosis.message
    assert list(understood.diagnoses) == sorted(understood.diagnoses, key=lambda d: d.sort_key())


def test_a_wire_to_a_misspelt_part_is_not_said_to_lead_nowhere_too(tmp_path: Path) -> None:
    """One slip gives one finding: the name is wrong, the wire is there."""
    shutil.copytree(EXAMPLES / "branch_chipper", tmp_path / "rig")
    plant = tmp_path / "rig" / "plant.rung"
    plant.write_text(plant.read_text(encoding="utf-8").replace("to P1", "to P9"), encoding="utf-8")
    assert [each.code for each in understand(tmp_path / "rig").diagnoses if each.grade != "note"] == ["drive-unknown"]
