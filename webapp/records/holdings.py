"""Every table of the depot by what it tells of a person, and how long that is kept."""

from __future__ import annotations

from dataclasses import dataclass

NOBODY = "tells of nobody"


@dataclass(frozen=True)
class Holding:
    """Some tables: what a person would call them, whom they tell of, when that goes.

    ``goes`` may name the days of a setting in braces.
    """

    what: str
    tables: tuple[str, ...]
    tells: str
    goes: str


HOLDINGS = (
    Holding(
        "Reports: the driver's name",
        ("report",),
        "the driver, if the name was added",
        "after {names} days, or by hand",
    ),
    Holding(
        "Reports: free words, and which tablet sent it",
        ("report_words", "refusal", "closed_number"),
        "who had that tablet then",
        "after {words} days, or by hand",
    ),
    Holding(
        "Reports and seals of tablets not enrolled; hashes of addresses that sent them",
        ("not_enrolled_item", "not_enrolled_spent"),
        "the driver, if the name was added",
        "after 30 days at most, 90 if moved there by an update; hashes after a day",
    ),
    Holding(
        "Reports: place, time, what was found, train and rail",
        ("report_answer", "wheel_check"),
        "nobody, once the rest is gone",
        "stays: the grip fact",
    ),
    Holding(
        "What the signaller or control said of a report",
        ("report_note",),
        "who said it, as the desk typed it",
        "stays: nobody can change it",
    ),
    Holding(
        "Ids of reports removed on request, in a file of the data folder",
        (),
        "nobody: an id alone",
        "stays, so that no older copy brings the report back",
    ),
    Holding(
        "Counts of approaches",
        ("approach_count", "count_item"),
        NOBODY,
        "stays",
    ),
    Holding(
        "Which tablet received and showed a living warning",
        ("warning_receipt",),
        "who had that tablet",
        "when the warning ends; counts by base stay",
    ),
    Holding(
        "Warnings, their steps and counts by duty base",
        ("warning", "warning_rev", "warning_reach", "warning_clock", "clearing_step"),
        "who told the desk",
        "stays",
    ),
    Holding(
        "Tablets: name, base, packs, last heard",
        ("device", "tablet_pack", "enrol_code"),
        "nobody: tablets bear no driver's name",
        "stays; codes a day after they end",
    ),
    Holding(
        "Receipts of warnings that came",
        ("receipt_item",),
        "which tablet sent which receipt",
        "after 30 days",
    ),
    Holding(
        "Accounts of the desk and who did what",
        ("person", "audit"),
        "the desk's own people",
        "stays: nobody can change the audit",
    ),
    Holding(
        "Packs that were proposed: by whom, why, and who decided",
        ("pack_proposal", "room_study"),
        "the desk's own people",
        "stays: it says who approved what tablets were given",
    ),
    Holding(
        "Log-ins and failed tries",
        ("desk_session", "throttle"),
        "the desk's own people",
        "within a day of their end",
    ),
    Holding(
        "Network addresses of log-ins",
        ("log_in_address",),
        "the desk's own people, and who tried",
        "after 30 days",
    ),
    Holding(
        "Listed places, declined proposals, treatments",
        ("listed_place", "declined_place", "treatment"),
        "who at the desk changed or declined it, who told of a treatment",
        "stays",
    ),
    Holding(
        "Seals after an incident: what a tablet showed, and the reports it names",
        ("seal", "sealed_report"),
        "nobody: neither tablet nor driver is kept with it",
        "stays: nobody can change or delete one",
    ),
    Holding(
        "Weather of each line: what was read, hours made worse by hand, whose column is which",
        ("weather_reading", "weather_change", "weather_columns"),
        "the desk's own people",
        "30 days after it was read or over; the columns stay",
    ),
    Holding(
        "Packs, index, trains barred, speed restrictions, the depot's own id",
        (
            *("pack_file", "index_rev", "feed_clock", "train_bar", "restriction"),
            *("depot", "demo_mark"),
        ),
        "who decided a barring, who told of a restriction",
        "stays",
    ),
)
