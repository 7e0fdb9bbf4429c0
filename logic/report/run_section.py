"""What was run: on which files, with which versions, how much of it, and the self-test of this installation."""

from __future__ import annotations

from rungproof.logic.checks.words import many, span_words
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import Html, code, element, joined, own, paragraph, section, table, text

BOUNDED = (
    "The search was bounded by a plan made from the size of the program, and the proofs by steps, not by a clock: "
    "the same files, seed and versions give this report again, the same bytes apart from its date line."
)
CUT = "A clock ended something that got out of hand: a repetition may come out differently there."


def run_section(evidence: Evidence) -> Html:
    """Files and hashes, seed, amounts, versions, known answers."""
    searched = evidence.result.searched
    amount = f"{many(searched.runs, 'run')} (a plan of {searched.planned_runs:,}, and the file's own scenarios), "
    amount += f"{span_words(searched.simulated_ms)} of machine time, the longest {span_words(searched.longest_run_ms)}"
    versions = (joined((code(name), text(f" {version}"))) for name, version in evidence.versions.items())
    facts = [
        ("Seed", text(str(searched.seed))),
        ("Search", text(f"{amount}; engine: {searched.engine}; every violation replayed in the reference engine")),
        ("Bounded by", text(CUT if _cut(evidence) else BOUNDED)),
        ("Versions", joined(versions, ", ")),
    ]
    listed = [part for name, inner in facts for part in (element("dt", text(name)), element("dd", inner))]
    files = [[code(name), code(digest)] for name, digest, _ in evidence.files]
    answers = evidence.answers
    wrong = sum(not each.agrees for each in answers)
    outcome = f"{wrong} answered wrongly" if wrong else "all answered as known"
    said = f"Self-test on this machine: {len(answers)} questions, {outcome}"
    rows = [
        [own(each.question), own(each.source), code(each.known), code(each.found), text("yes" if each.agrees else "NO")]
        for each in answers
    ]
    heads = [text(each) for each in ("Question", "The answer is known from", "Known", "Came out here", "Agrees")]
    return section(
        "run",
        "What was run",
        [
            element("dl", listed, class_="facts"),
            table([text("File"), text("SHA-256")], files, "Files"),
            table(heads, rows, said, "tight"),
            *(
                [paragraph(text("The installation answers wrongly: nothing in this report may be relied on."))]
                if wrong
                else []
            ),
        ],
    )


def _cut(evidence: Evidence) -> bool:
    late = any("the time was up" in verdict.reason for verdict in evidence.result.verdicts)
    return evidence.result.searched.cut_by_time or late
