"""Each requirement: what people sign, what the formula says, what came out, where it was looked for, and how hard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rungproof.logic.checks.verdict import Verdict
from rungproof.logic.checks.verdicts import nearest_words
from rungproof.logic.checks.words import many, span_words, time_words
from rungproof.logic.meaning.program import Requirement
from rungproof.logic.report.coverage_section import REACHED
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    Html,
    code,
    element,
    items,
    joined,
    own,
    paragraph,
    section,
    table,
    text,
)

#: What a word means, and what it does not: stands beside every verdict.
MEANS = {
    "proved": "holds in the model for every course of what is left free; it does not say that the model is the machine",
    "exhausted": "all cases of the model were tried; it does not say that the model is the machine",
    "simulated": "no violation was found in what was tried; it does not say that there is none",
    "violated": "there is a course of events that breaks it; the story shows one",
    "vacuous": "its trigger never came: nothing is known of what it asks for",
    "undecided": "nothing is known either way",
}

READ = (
    "Read each sentence against its restatement, which was made from the formula alone: what was judged is the "
    "formula. Then read what was allowed for: `no faults` and `outputs free` are worlds apart."
)

#: Sentences of a proof that are printed; the certificate holds all.
MOST_BECAUSE = 12


def requirements_section(evidence: Evidence) -> Html:
    """A table of all, then each by itself."""
    requirements = {each.name: each for each in evidence.program.requirements}
    verdicts = evidence.result.verdicts
    if not verdicts:
        words = "The files hold no requirement: nothing was judged."
        return section("requirements", "Requirements", [paragraph(text(words))])
    counts = ", ".join(f"{count} {word}" for word, count in Counter(v.word for v in verdicts).items())
    heads = [text(each) for each in ("Name", "Verdict", "Sentence", "Looked at", "Faults allowed for")]
    rows = [
        [code(v.requirement), word_of(v.word), own(v.sentence, 300), text(v.looked_at), text(v.scope)] for v in verdicts
    ]
    overview = table(heads, rows, f"{many(len(verdicts), 'requirement')}: {counts}")
    used = [word for word in MEANS if any(v.word == word for v in verdicts)]
    listed = [part for word in used for part in (element("dt", word_of(word)), element("dd", text(MEANS[word])))]
    meant = element("dl", listed, class_="facts words")
    told = [_requirement(evidence, verdict, requirements[verdict.requirement]) for verdict in verdicts]
    return section("requirements", "Requirements", [paragraph(text(READ)), meant, overview, *told])


def word_of(word: str) -> Html:
    """A verdict's word in its frame; the frame's line tells words apart without colour."""
    return element("span", text(word), class_=f"word {word}")


def _requirement(evidence: Evidence, verdict: Verdict, requirement: Requirement) -> Html:
    heading = element("h3", joined((code(verdict.requirement), word_of(verdict.word))), id=f"r-{verdict.requirement}")
    sentence = element(
        "p",
        joined(
            (text("\N{LEFT DOUBLE QUOTATION MARK}"), own(verdict.sentence), text("\N{RIGHT DOUBLE QUOTATION MARK}"))
        ),
        class_="said",
    )
    facts = list(_facts(evidence, verdict, requirement))
    listed = [part for name, inner in facts for part in (element("dt", text(name)), element("dd", inner))]
    story = list(_story(evidence, verdict))
    return element(
        "article",
        [heading, sentence, element("dl", listed, class_="facts"), *story],
        class_="short" if not story else "",
    )


def _facts(evidence: Evidence, verdict: Verdict, requirement: Requirement) -> Iterator[tuple[str, Html]]:
    yield "Restated", own(verdict.restatement)
    yield "Why", own(verdict.reason)
    yield "Looked at", text(f"{verdict.looked_at}; {verdict.scope}")
    if requirement.against:
        sentences = {hazard.name: hazard.sentence for hazard in evidence.program.hazards}
        against = (joined((code(name), text(" "), own(sentences.get(name, "")))) for name in requirement.against)
        yield "Against", joined(against, "; ")
    if verdict.runs:
        yield "Tried", text(f"{many(verdict.runs, 'run')}, {span_words(verdict.simulated_ms)}{_met(verdict)}")
    if verdict.nearest is not None:
        yield "Nearest miss", text(nearest_words(verdict.nearest))
    if evidence.coverage is not None:
        marks = [
            m for each in evidence.coverage.requirements if each.requirement == verdict.requirement for m in each.marks
        ]
        if marks:
            yield "Coverage", text("; ".join(f"{mark}: {REACHED[reached]}" for mark, reached in marks))
    if verdict.because:
        yield "Why no run can break it", items(_why(verdict))
    if verdict.certificate is not None:
        rests = ", ".join(each.words for each in verdict.certificate.rests_on)
        yield "The proof rests on", own(rests)
        assuming = verdict.certificate.assuming
        if assuming:
            told = (joined((own(says), text(": "), own(who))) for says, who in assuming)
            yield "It takes for granted", items(told, ordered=True)


def _why(verdict: Verdict) -> Iterator[Html]:
    """The proof's sentences over the author's own names; what only the prover remembers stays in the certificate."""
    shown = verdict.plainly_because[:MOST_BECAUSE]
    yield from (own(each) for each in shown)
    left = len(verdict.because) - len(shown)
    if left:
        more = f"and {left} more" if shown else f"{many(left, 'sentence')}"
        yield text(f"{more}, on what timers, edges and the requirement itself remember: in its certificate")


def _met(verdict: Verdict) -> str:
    """How often the runs met what a requirement speaks of; a proof that no run met stands alone, and is said to."""
    if verdict.triggers:
        return f" of machine time; its trigger came {many(verdict.triggers, 'time')}"
    alone = "; the word rests on the proof alone" if verdict.word == "proved" else ""
    return f" of machine time; none of them met what it speaks of, with {verdict.scope}{alone}"


def _story(evidence: Evidence, verdict: Verdict) -> Iterator[Html]:
    if verdict.story_text is None or verdict.violated_at is None:
        return
    yield element("h4", text(f"The story that breaks it, at {time_words(verdict.violated_at)}"))
    if verdict.scenario is not None:
        yield paragraph(joined((text("It is the file's own scenario "), own(verdict.scenario), text("."))))
    yield element("pre", own(verdict.story_text, 6000), class_="story")
    chart = evidence.charts.get(verdict.requirement)
    if chart is not None:
        yield element("figure", [Html(chart)])
