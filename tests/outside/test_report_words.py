"""The words of a grip report against the rule book's, as quoted."""

from __future__ import annotations

from webapp.records.reports.body import WORDS_FOUND

from .row import Source, outside

RSSB = Source(
    "RSSB, rule book changes: Good, Expected, Reportable since March 2018",
    "https://www.rssb.co.uk/what-we-do/key-industry-topics/adhesion/driver-behaviour/"
    "rule-book-changes-poor-adhesion-and-when-to-report-it",
    "CONFIRMED",
)


@outside(RSSB, 3, why="these three and no older word")
def test_three_words_for_what_was_found():
    assert [word.capitalize() for word in WORDS_FOUND] == ["Good", "Expected", "Reportable"]
    return len(WORDS_FOUND)
