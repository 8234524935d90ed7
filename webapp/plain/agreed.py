"""What tablet and depot must agree on, once: the tablet's copy is written out of this module.

``python tests/golden/make_agreed.py`` writes `static/core/agreed.js`;
``tests/webapp/test_agreed.py`` holds the copy to the list.
"""

from __future__ import annotations

# In a request: this is the app, not a form. In an answer: this is the depot, not a portal.
# Its value is the version of the sync protocol.
MARK, PROTOCOL = "X-Step-In-Hand", "1"

#: Most items of a batch.
MOST_ITEMS = 50
#: Longest text of a report, and longest answer in a seal. [characters]
MOST_TEXT, MOST_ANSWER = 2000, 120
#: Most in one receipt: warnings said of, and warnings given whole. The rest comes next time.
MOST_SAID, MOST_BEFORE = 500, 100
#: Most cells of counts in one item.
MOST_CELLS = 500
#: Most of each kind in a seal; longest line of the card there. [characters]
MOST_SEALED, LONGEST_LINE = 500, 500

#: Fastest speed that a restriction may say, in its own unit: above, it is a slip.
FASTEST_RESTRICTION = 250
#: A restriction reaches this far beyond its ends: places are typed to a chain (20.1 m); own
#: number, up. [m]
RESTRICTION_NEAR_M = 25

#: Two clocks may differ by this before it is said. Own choice. [s]
CLOCK_WRONG_S = 120
#: A tablet drifts by minutes; a day apart, either may have begun at a wrong date. Own
#: choice. [s]
FAR_APART_S = 86_400

#: How long a tablet keeps what it delivered, unless the depot's setting says otherwise. [days]
TABLET_DAYS = 35

#: Where the base file of a pack holds texts that a tablet shows as they stand.
SPOKEN = (
    *("route.name", "directions.name", "places.name", "states.name", "listed.name"),
    *("targets.name", "targets.words", "targets.note", "landmarks.words"),
    *("listed.reason", "trains.type_name", "trains.name", "trains.steps"),
    *("trains.slide_words", "trips.name", "trips.calls.note", "signals.words"),
    *("signals.stop_before", "signals.note", "brake_tests.words", "brake_tests.note"),
    "settings.trip_allowance_words",
)

#: Letters of a code: no two look or sound alike.
LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
#: Secret letters of a tablet's code, letters that name the key, digits of its id they hold.
SECRET_LETTERS, KEY_LETTERS, KEY_DIGITS = 8, 8, 16
