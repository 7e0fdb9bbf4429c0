"""From counts to words: which verdict a requirement gets, and why, said plainly."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rungproof.logic.checks.expressions import form_expressions, walk
from rungproof.logic.checks.proving import Proof
from rungproof.logic.checks.tally import Count
from rungproof.logic.checks.verdict import Nearest, Verdict, Word
from rungproof.logic.checks.words import many, rounded, span_words, time_words
from rungproof.logic.meaning.program import Always, Never, Requirement, Story
from rungproof.logic.meaning.typed import Comparison

#: A trigger that never came says something only after so many runs that were long enough.
LEAST_FOR_VACUOUS = 20


@dataclass(frozen=True, slots=True)
class Violation:
    """A confirmed violation: its story, the story as text, its instant (ms), the scenario it came from."""

    story: Story
    text: str
    at: int
    scenario: str | None = None


def verdict_of(
    requirement: Requirement,
    count: Count,
    violation: Violation | None,
    trouble: str | None,
    proof: Proof | None = None,
) -> Verdict:
    """The verdict. `trouble` is an internal error that leaves the requirement open."""
    if violation is not None:
        word, reason = _violated(violation)
        if proof is not None and proof.least and violation.at == proof.at:
            reason += f"; {proof.least}"
        if proof is not None and proof.word is not None:
            reason += "; a proof had said otherwise: an internal error of ours, please send the story"
    elif trouble is not None:
        word, reason = "undecided", trouble
    elif proof is not None and proof.word is not None:
        word, reason = proof.word, proof.reason
    else:
        word, reason = word_of(requirement, count)
        nearest = nearest_of(requirement, count)
        reason += f"; {nearest_words(nearest)}" if word == "simulated" and nearest is not None else ""
        reason += f"; {proof.reason}" if proof is not None and proof.reason else ""
    certificate = proof.certificate if proof is not None and word == proof.word else None
    return Verdict(
        requirement=requirement.name,
        sentence=requirement.sentence,
        restatement=requirement.restatement,
        word=word,
        looked_at=requirement.looked_at,
        fault_set="with any one fault" if requirement.any_one_fault else "no faults",
        outputs_free=requirement.outputs_free,
        reason=reason,
        triggers=count.triggers,
        runs=count.runs,
        simulated_ms=count.simulated_ms,
        violated_at=violation.at if violation else None,
        story_text=violation.text if violation else None,
        story=violation.story if violation else None,
        scenario=violation.scenario if violation else None,
        certificate=certificate,
        nearest=nearest_of(requirement, count) if word == "simulated" else None,
    )


def nearest_of(requirement: Requirement, count: Count) -> Nearest | None:
    """The nearest miss with its unit; None where none was measured, or numbers of several units are compared."""
    if count.nearest is None:
        return None
    parts = (each for whole in form_expressions(requirement) for each in walk(whole))
    compared = [each for each in parts if isinstance(each, Comparison) and each.left.type == "real"]
    units = {None if each.left.unit is None else each.left.unit.symbol for each in compared} or {"ms"}
    unit = units.pop()
    far = unit == "ms" and count.nearest > requirement.horizon  # it never began: nothing to be near to
    return None if units or far else Nearest(count.nearest, unit, count.near_runs)


def nearest_words(nearest: Nearest) -> str:
    """`the nearest to a violation was 3.1 cm away, in the 2,400 runs side by side`."""
    return f"the nearest to a violation was {margin_words(nearest)} away, in {many(nearest.runs, 'run')} side by side"


def margin_words(nearest: Nearest) -> str:
    """`3.1 cm`, `35 ms`."""
    if nearest.unit == "ms":
        return time_words(round(nearest.margin))
    return f"{rounded(nearest.margin, 3)} {nearest.unit or ''}".rstrip()


def _violated(violation: Violation) -> tuple[Word, str]:
    where = "by this story" if violation.scenario is None else f'by scenario "{violation.scenario}"'
    return "violated", f"violated {where} at {time_words(violation.at)}; the reference engine shows the same"


def word_of(requirement: Requirement, count: Count) -> tuple[Word, str]:
    """The word for a requirement that no run violated."""
    runs = many(count.runs, "run")
    lasted = f"lasted the {span_words(requirement.horizon)} that it speaks of"
    if count.runs == 0:
        return "undecided", "no run watched it: the time was out before"
    if count.scoped == 0:
        return "undecided", f"no run had {_scope_words(requirement)} in it: the time was out before"
    if count.longest_ms == 0 and count.cut_at_start < count.scoped:
        return "undecided", f"the time was out before any of {runs} had begun"
    if count.longest_ms == 0:
        return "vacuous", f"the assumptions leave nothing of any run: all {runs} were cut at their start"
    if count.long_enough == 0:
        longest = span_words(count.longest_ms)
        return "undecided", f"no run {lasted}; the longest was {longest}: give the search more time"
    if count.triggers == 0 and count.long_enough < LEAST_FOR_VACUOUS:
        if requirement.horizon == 0:
            return "undecided", f"its trigger never came, and only {many(count.scoped, 'run')} could have had it"
        return "undecided", f"its trigger never came, but only {many(count.long_enough, 'run')} {lasted}"
    if count.triggers == 0:
        return "vacuous", f"its trigger never came in {runs}"
    if count.decided == 0:
        return "undecided", f"in each of {runs} that had its trigger something was still open at the end"
    looked = "; ".join(_looked(requirement, count, lasted))
    if len(count.faults) < count.known_faults:
        return "undecided", f"{looked}; too few: every fault wants a run of its own"
    return "simulated", looked


def _looked(requirement: Requirement, count: Count, lasted: str) -> Iterator[str]:
    """What the search saw of a requirement, phrase by phrase."""
    yield f"no violation in {many(count.runs, 'run')}, {span_words(count.simulated_ms)} in all"
    if count.scoped < count.runs:
        yield f"{count.scoped:,} of them with {_scope_words(requirement)}"
    if requirement.horizon and count.long_enough < count.runs:
        yield f"{count.long_enough:,} {lasted}"
    if not isinstance(requirement.form, Never | Always):
        yield f"its trigger stood at {many(count.triggers, 'instant')}"
    if requirement.any_one_fault:
        yield f"{len(count.faults)} of {many(count.known_faults, 'known fault')} tried"


def _scope_words(requirement: Requirement) -> str:
    words = ["one fault"] if requirement.any_one_fault else []
    words += ["the outputs free"] if requirement.outputs_free else []
    return " and ".join(words)
