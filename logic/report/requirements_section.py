"""Each requirement: what people sign, what the formula says, what came out, where it was looked for, and how hard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from rungproof.logic.checks.verdict import Verdict
from rungproof.logic.checks.words import many, time_words
from rungproof.logic.meaning.program import Requirement
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    Html,
    code,
    element,
    items,
    joined,
    own,
    paragraph,
    prose,
    saying,
    section,
    table,
    text,
)
from rungproof.logic.report.proof_tables import Ways, rests_table, tried_table, ways_of, ways_table

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
    """A table of all, then what they have in common, then each by itself."""
    requirements = {each.name: each for each in evidence.program.requirements}
    verdicts = evidence.result.verdicts
    if not verdicts:
        words = "The files hold no requirement: nothing was judged."
        return section("requirements", "Requirements", [paragraph(text(words))])
    used = [word for word in MEANS if any(v.word == word for v in verdicts)]
    listed = [part for word in used for part in (element("dt", word_of(word)), element("dd", text(MEANS[word])))]
    meant = element("dl", listed, class_="facts words")
    ways = ways_of(verdicts)
    told = [_requirement(evidence, verdict, requirements[verdict.requirement], ways) for verdict in verdicts]
    tables = [_overview(verdicts), tried_table(evidence), ways_table(ways, verdicts), rests_table(verdicts)]
    return section("requirements", "Requirements", [paragraph(prose(READ)), meant, *tables, *told])


def _overview(verdicts: Sequence[Verdict]) -> Html:
    counts = ", ".join(f"{count} {word}" for word, count in Counter(v.word for v in verdicts).items())
    heads = [text(each) for each in ("Name", "Verdict", "Sentence", "Looked at", "Faults allowed for")]
    rows = [
        [code(v.requirement), word_of(v.word), own(v.sentence, 300), text(v.looked_at), text(v.scope)] for v in verdicts
    ]
    caption = f"{many(len(verdicts), 'requirement')}, in the order of their names: {counts}"
    return table(heads, rows, caption, "overview")


def word_of(word: str) -> Html:
    """A verdict's word in its frame; the frame's line tells words apart without colour."""
    return element("span", text(word), class_=f"word {word}")


def _requirement(evidence: Evidence, verdict: Verdict, requirement: Requirement, ways: Ways) -> Html:
    heading = element("h3", joined((code(verdict.requirement), word_of(verdict.word))), id=f"r-{verdict.requirement}")
    sentence = element(
        "p",
        joined(
            (text("\N{LEFT DOUBLE QUOTATION MARK}"), own(verdict.sentence), text("\N{RIGHT DOUBLE QUOTATION MARK}"))
        ),
        class_="said",
    )
    facts = list(_facts(evidence, verdict, requirement, ways))
    listed = [part for name, inner in facts for part in (element("dt", text(name)), element("dd", inner))]
    story = list(_story(evidence, verdict))
    return element(
        "article",
        [heading, sentence, element("dl", listed, class_="facts"), *story],
        class_="short card" if not story else "card",
    )


def _facts(evidence: Evidence, verdict: Verdict, requirement: Requirement, ways: Ways) -> Iterator[tuple[str, Html]]:
    yield "Restated", own(verdict.restatement)
    yield "Why", _reason(verdict, ways)
    where = [text(f"{verdict.looked_at}; {verdict.scope}")]
    if requirement.against:
        names = (element("a", code(name), href="#hazards") for name in requirement.against)
        where.append(joined((text("against "), joined(names, ", "))))
    yield "Looked at", joined(where, "; ")
    because = verdict.plainly_because
    if because:
        yield "No run breaks it, as", items(_why(verdict))
    assuming = verdict.certificate.assuming if verdict.certificate is not None else ()
    if assuming:
        yield "Takes for granted", _granted(evidence, assuming)


def _reason(verdict: Verdict, ways: Ways) -> Html:
    """What is shared stands in the table of ways; its beginning, which says what was left free, stands here too."""
    letter = ways.get(verdict.reason)
    if letter is None:
        return saying(verdict.reason)
    return joined((own(verdict.reason.partition(";")[0]), text(f" (way {letter})")))


def _granted(evidence: Evidence, assuming: Sequence[tuple[str, str]]) -> Html:
    """By number where the table of assumptions has it, else in full."""
    numbers = {each.sentence: each.number for each in evidence.result.envelope}
    known = sorted(numbers[says] for says, _ in assuming if says in numbers)
    more = [joined((own(says), text(": "), own(who))) for says, who in assuming if says not in numbers]
    listed = ", ".join(str(each) for each in known)
    link = element("a", text(f"{'assumptions' if len(known) > 1 else 'assumption'} {listed}"), href="#assumptions")
    return joined(([link, text(" of the plant, see there")] if known else []) + ([items(more)] if more else []))


def _why(verdict: Verdict) -> Iterator[Html]:
    """The proof's sentences over the author's own names; what only the prover remembers stays in the certificate."""
    shown = verdict.plainly_because[:MOST_BECAUSE]
    yield from (saying(each) for each in shown)
    left = len(verdict.because) - len(shown)
    if left:
        yield text(f"and {left} more, on what timers, edges and the requirement itself remember: in its certificate")


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
