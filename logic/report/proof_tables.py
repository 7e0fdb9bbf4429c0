"""What many requirements have in common, told once: how they were proved, what proofs rest on, how each was tried."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rungproof.logic.checks.verdict import Verdict
from rungproof.logic.checks.verdicts import margin_words
from rungproof.logic.checks.words import many, span_words
from rungproof.logic.meaning.program import Always, Never
from rungproof.logic.proofs.certificate import Certificate
from rungproof.logic.report.coverage_section import REACHED
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    NOTHING,
    Html,
    code,
    element,
    joined,
    own,
    paragraph,
    prose,
    saying,
    table,
    text,
)

#: The letter of each way of proof, by its words.
Ways = dict[str, str]

_SHARED = {"rung": "rungs", "tag": "tags", "assumption": "the author's assumptions", "plant": "plant"}

_IN_CERTIFICATES = (
    "Why no run can break a proved requirement stands sentence by sentence in its certificate, which "
    "`rungproof check --certificates` writes and `rungproof recheck` checks again; those sentences that speak of the "
    "author's own names alone are printed with the requirement."
)


def ways_of(verdicts: Iterable[Verdict]) -> Ways:
    """A letter for every reason that two proofs or more have in common."""
    reasons = [each.reason for each in verdicts if each.word == "proved"]
    shared = [reason for reason in dict.fromkeys(reasons) if reasons.count(reason) > 1]
    return {reason: chr(ord("A") + place) for place, reason in enumerate(shared[:26])}


def ways_table(ways: Ways, verdicts: Iterable[Verdict]) -> Html:
    """What each letter stands for, and which requirements were proved so."""
    if not ways:
        return NOTHING
    heads = [text(each) for each in ("Way", "What was proved, and how", "Requirements")]
    of = {way: [v.requirement for v in verdicts if v.word == "proved" and v.reason == way] for way in ways}
    rows = [[text(ways[way]), saying(way), _names(names)] for way, names in of.items()]
    made = table(heads, rows, "Ways in which requirements were proved", "ways")
    return joined((made, paragraph(prose(_IN_CERTIFICATES), "note")))


def rests_table(verdicts: Iterable[Verdict]) -> Html:
    """What proofs rest on, those together that rest on the same; each rests on its own requirement too."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for verdict in verdicts:
        if verdict.certificate is not None:
            alike.setdefault(tuple(_rests(verdict.certificate)), []).append(verdict.requirement)
    if not alike:
        return NOTHING
    heads = [text(each) for each in ("Proofs of", "Rest on, besides the requirement itself")]
    rows = [[_names(names), own("; ".join(rests) or "nothing else")] for rests, names in alike.items()]
    return table(heads, rows, "What the proofs rest on: if any of it changes, they are to be found anew", "ways")


def _rests(certificate: Certificate) -> Iterator[str]:
    """`rungs a, b`, `tags c, d`, and what has no name, kind by kind."""
    kinds = dict.fromkeys(each.kind for each in certificate.rests_on if each.kind != "requirement")
    for kind in kinds:
        names = [each.name for each in certificate.rests_on if each.kind == kind and each.name]
        yield f"{_SHARED.get(kind, kind)} {', '.join(names)}" if names else f"the {kind}"


def tried_table(evidence: Evidence) -> Html:
    """Runs, triggers, nearest misses and coverage: figures stand better below each other."""
    verdicts = [each for each in evidence.result.verdicts if each.runs]
    if not verdicts:
        return NOTHING
    near = any(each.nearest is not None for each in verdicts)
    seen = _coverage(evidence)
    # Of what must never, or always, be so, every instant is a trigger.
    steady = {each.name for each in evidence.program.requirements if isinstance(each.form, Never | Always)}
    heads = ["Name", "Runs", "Machine time", "Triggers or instants, in its scope", *(["Nearest miss"] if near else [])]
    heads += ["In scenarios and the runs for coverage"] if seen else []
    rows = []
    for each in verdicts:
        row = [
            code(each.requirement),
            text(f"{each.runs:,}"),
            text(span_words(each.simulated_ms)),
            text(_came(each, each.requirement in steady)),
        ]
        row += [text(_near(each))] if near else []
        row += [text(seen.get(each.requirement, ""))] if seen else []
        rows.append(row)
    made = table([text(each) for each in heads], rows, "How each was tried", "tight figures tried")
    alone = [each.requirement for each in verdicts if each.word == "proved" and not each.triggers]
    if not alone:
        return made
    words = joined(
        (text("Proved, while its trigger came in no run of its scope: "), _names(alone), text(". "), text(_ALONE))
    )
    return joined((made, paragraph(words, "note")))


_ALONE = "There the word rests on the proof alone."


def _came(verdict: Verdict, steady: bool) -> str:
    return many(verdict.triggers, "instant" if steady else "time") if verdict.triggers else "never"


def _near(verdict: Verdict) -> str:
    if verdict.nearest is None:
        return ""
    return f"{margin_words(verdict.nearest)}, in {many(verdict.nearest.runs, 'run')}"


def _coverage(evidence: Evidence) -> dict[str, str]:
    """`in a scenario: trigger, release; never: time run out`, by requirement."""
    told = {}
    for each in evidence.coverage.requirements if evidence.coverage is not None else ():
        reached = dict.fromkeys(how for _, how in each.marks)
        parts = (f"{REACHED[how]}: {', '.join(mark for mark, at in each.marks if at == how)}" for how in reached)
        if each.marks:
            told[each.requirement] = "; ".join(parts)
    return told


def _names(names: Iterable[str]) -> Html:
    return joined((element("a", code(name), href=f"#r-{name}") for name in names), ", ")
