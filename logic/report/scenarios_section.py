"""The file's own scenarios: what they expect, what came, and the run in time."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.verdict import ScenarioResult
from rungproof.logic.checks.words import time_words
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import Html, element, items, joined, own, paragraph, section, text


def scenarios_section(evidence: Evidence) -> Html:
    """The section; nothing in it where the files hold no scenario."""
    scenarios = evidence.result.scenarios
    if not scenarios:
        return section("scenarios", "Scenarios", [paragraph(text("The files hold no scenario of their own."))])
    about = (
        "Where a chart of all would not fit a page, numbers of the plant that nothing speaks of are left out of it; "
    )
    about += "`rungproof run --chart-svg` has them. "
    if len(evidence.scenario_charts) < len(scenarios):
        about += (
            f"Charts stand here of {len(evidence.scenario_charts)} scenarios of {len(scenarios)}: the first ones, and "
        )
        about += "those that did not go as expected."
    told = [part for each in scenarios for part in _scenario(evidence, each)]
    return section("scenarios", "Scenarios", [paragraph(text(about), "note"), *told])


def _scenario(evidence: Evidence, scenario: ScenarioResult) -> Iterator[Html]:
    word = element("span", text(scenario.word), class_="word")
    told = [joined((text(f"{each.words}: "), own(each.restatement))) for each in scenario.expectations]
    for mention in scenario.mentions:
        words = f"{mention.requirement} is violated at {time_words(mention.violated_at)}: {mention.words}"
        told.append(own(words))
    if scenario.cut:
        told.append(own(scenario.cut))
    chart = evidence.scenario_charts.get(scenario.name)
    figure = [element("figure", [Html(chart)])] if chart is not None else []
    yield element("article", [element("h3", joined((own(scenario.name), word))), items(told), *figure], class_="short")
