"""What stands open, before anything else: whoever signs must have an answer to each line of it."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.words import many
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    Html,
    code,
    element,
    items,
    joined,
    own,
    saying,
    text,
)
from rungproof.logic.report.questions.every import questions_of

#: Names that stand on one line; the section has the rest.
MOST_NAMES = 12


def open_box(evidence: Evidence) -> Html:
    """A box for the first page: each line names what is open and leads to its section."""
    lines = [*_verdicts(evidence), *_scenarios(evidence), *_findings(evidence), *_layers(evidence)]
    lines += [*_faults(evidence), *_excluded(evidence), *_restarts(evidence), *_questions(evidence)]
    if not lines:
        lines = [text("Nothing: every requirement is proved, and nothing was found that speaks against the design.")]
    inner = [element("h2", text("What stands open"), id="open-title"), items(lines)]
    return element("section", inner, class_="open", aria_labelledby="open-title")


def _line(anchor: str, words: str, *more: Html) -> Html:
    """What leads to the section, and what follows it; a colon between them is no part of the link."""
    bare = words.removesuffix(": ")
    return joined((element("a", text(bare), href=f"#{anchor}"), text(words[len(bare) :]), *more))


def _names(names: list[str]) -> Html:
    shown = joined((code(each) for each in names[:MOST_NAMES]), ", ")
    left = len(names) - MOST_NAMES
    return joined((text(": "), shown, text(f" and {left} more" if left > 0 else "")))


def _verdicts(evidence: Evidence) -> Iterator[Html]:
    said = {
        "violated": "violated: there is a story that breaks it",
        "vacuous": "vacuous: its trigger never came",
        "undecided": "undecided: nothing is known either way",
        "simulated": "simulated only: searched and not found, which proves nothing",
    }
    for word, meaning in said.items():
        names = [each.requirement for each in evidence.result.verdicts if each.word == word]
        if names:
            yield _line("requirements", f"{many(len(names), 'requirement')} {meaning}", _names(names))
    if not evidence.result.verdicts:
        yield _line("requirements", "The files hold no requirement: nothing was judged.")


def _scenarios(evidence: Evidence) -> Iterator[Html]:
    for each in evidence.result.scenarios:
        if each.word in ("not as expected", "undecided"):
            yield _line("scenarios", f"A scenario {each.word}: ", own(each.name))


def _findings(evidence: Evidence) -> Iterator[Html]:
    for each in evidence.result.diagnoses:
        if each.grade in ("error", "warning"):
            yield _line("findings", f"{each.grade}: ", saying(each.message))


def _layers(evidence: Evidence) -> Iterator[Html]:
    said = {each.message for each in evidence.result.diagnoses}
    for row in evidence.independence.hazards:
        for each in row.findings:
            if each.grade != "note" and each.message not in said:
                yield _line("hazards", f"{row.hazard}: ", saying(each.message))
        if row.why_not:
            yield _line("hazards", f"{row.hazard}: the layers that guard it could not be worked out")
        if not any(row.hazard in each.against for each in evidence.program.requirements):
            yield _line("hazards", f"{row.hazard}: no requirement stands against it")


def _faults(evidence: Evidence) -> Iterator[Html]:
    found = evidence.faults
    if found is None:
        if evidence.program.plant is not None:
            yield _line("faults", "No fault was tried.")
        return
    for outcome in ("hazard open", "moves unasked", "late", "requirement broken"):
        names = [row.name for row in found.of(outcome)]
        if names:
            yield _line("faults", f"{many(len(names), 'single fault')}: {outcome}", _names(names))
    hidden = len(found.of("hidden"))
    if hidden:
        yield _line("faults", f"{many(hidden, 'single fault')} hidden: nobody sees it until something is asked")


def _excluded(evidence: Evidence) -> Iterator[Html]:
    left = evidence.program.exclusions
    for reason in dict.fromkeys(each.reason for each in left):
        names = [each.key.replace("!", " ") for each in left if each.reason == reason]
        said = own(f"\N{LEFT DOUBLE QUOTATION MARK}{reason}\N{RIGHT DOUBLE QUOTATION MARK}")
        yield _line("faults", "Left out of account, ", said, _names(names))


def _restarts(evidence: Evidence) -> Iterator[Html]:
    """What starts again, and what was never started, so that nothing is known of it."""
    found = evidence.restart
    if found is None:
        if evidence.program.controller is not None:
            yield _line("restart", "Nothing was tried of what starts again.")
        return
    names = list(dict.fromkeys(row.moving for row in found.rows if row.word == "restarts"))
    if names:
        yield _line("restart", "Starts again without a fresh press", _names(names))
    if found.never_started:
        yield _line("restart", "Never seen to start, so nothing is known of a restart", _names([*found.never_started]))


def _questions(evidence: Evidence) -> Iterator[Html]:
    asked = sum(len(each) for _, each in questions_of(evidence.program, evidence.result, evidence.faults))
    if asked:
        yield _line("questions", f"{many(asked, 'question')} to answer in writing")
