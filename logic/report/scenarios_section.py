"""The file's own scenarios: what they expect, what came, and the run in time."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.verdict import ScenarioResult
from rungproof.logic.checks.words import time_words
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import Html, element, items, joined, own, paragraph, prose, section, text
from rungproof.logic.report.order import by_name


def scenarios_section(evidence: Evidence) -> Html:
    """The section; nothing in it where the files hold no scenario."""
    scenarios = evidence.result.scenarios
    if not scenarios:
        return section("scenarios", "Scenarios", [paragraph(text("The files hold no scenario of their own."))])
    about = (
        "Where a chart of all would not fit a page, numbers of the plant are left out of it, first those that nothing "
        "speaks of; "
    )
    about += "`rungproof run --chart-svg` has them. "
    if len(evidence.scenario_charts) < len(scenarios):
        about += (
            f"Charts stand here of {len(evidence.scenario_charts)} scenarios of {len(scenarios)}: the first ones, and "
        )
        about += "those that did not go as expected."
    told = [part for each in scenarios for part in _scenario(evidence, each)]
    return section("scenarios", "Scenarios", [paragraph(prose(about), "note"), *told])


def _scenario(evidence: Evidence, scenario: ScenarioResult) -> Iterator[Html]:
    word = element("span", text(scenario.word), class_="word")
    told = [joined((text(f"{each.words}: "), own(each.restatement))) for each in scenario.expectations]
    told += [own(each) for each in _mentions(scenario)]
    if scenario.cut:
        told.append(own(scenario.cut))
    chart = evidence.scenario_charts.get(scenario.name)
    figure = [element("figure", [Html(chart)])] if chart is not None else []
    heading = element("h3", joined((own(scenario.name), word)))
    yield element("article", [heading, items(told), *figure], class_="short card")


def _mentions(scenario: ScenarioResult) -> Iterator[str]:
    """Requirements that the run violates, those together that count, or do not, for the same reason."""
    for words in dict.fromkeys(each.words for each in scenario.mentions):
        alike = sorted((m for m in scenario.mentions if m.words == words), key=lambda m: by_name(m.requirement))
        named = ", ".join(f"{each.requirement} at {time_words(each.violated_at)}" for each in alike)
        yield f"violated in this run: {named}; {words}"
