"""The fixed strings of every tablet, by code, as the operating rules word them.

A company may translate them but not soften them; they travel in the pack so that a
tablet shows the words of the pack it computes with. A route's ``words.toml`` holds them.
"""

from __future__ import annotations

import re

FIXED_WORDS = {
    "W1": "Platform stop only. Signals first.",
    "W2": "Begin before {mark}, {step}. If worse: before {worse}. Not above {speeds}.",
    "W3": "safe, clear, OK, covered, enough, permitted, risk, late, minutes, seconds, "
    "per cent",
    "W4": "Sliding: hold the brake. Not slowing as it should: EMERGENCY, hold to a stand.",
    "W5": "Warnings held here {time}. For newer ones ask the signaller.",
    "W6": "No advice here. Drive to the conditions.",
    "W7": "Saved on this tablet. The signaller does not know. Call now.",
    "W8": "Before you move: signal, doors.",
    "W9": "Rail state {hours} h old: planned as {state}.",
    "W10": "Don't release doors. Don't move. Signaller.",
}

#: What a company may put in other words, in each language: these are shown; W2 and W3 are
#: rules for words. Longest text (it has to fit where it stands), and what must be named.
LONGEST = {
    "W1": 48,
    "W4": 120,
    "W5": 80,
    "W6": 56,
    "W7": 100,
    "W8": 48,
    "W9": 64,
    "W10": 64,
}
PUT_IN = {"W5": ("{time}",), "W9": ("{hours}", "{state}")}
#: For each thing that must be named, the words that name it.
_Named = tuple[tuple[str, ...], ...]
NAMED: dict[str, dict[str, _Named]] = {
    "en": {
        "W1": (("signal",),),
        "W4": (("EMERGENCY",),),
        "W6": (("no advice",),),
        "W7": (("not", "n't"), ("call",)),
        "W8": (("signal",), ("door",)),
        "W10": (("not", "n't"), ("door",)),
    },
    "de": {
        "W1": (("signal",),),
        "W4": (("SCHNELLBREMSUNG", "NOTBREMSUNG"),),
        "W6": (("kein",), ("rat",)),
        "W7": (("nicht",), ("anruf", "ruf")),
        "W8": (("signal",), ("tür",)),
        "W10": (("nicht", "kein"), ("tür",)),
    },
}
#: A fixed word is no request, and W3 keeps these off a moving page.
SOFT: dict[str, tuple[str, ...]] = {
    "en": (
        *("please", "may", "can", "could", "try", "perhaps", "if possible", "safe", "clear"),
        *("ok", "covered", "enough", "permitted", "risk", "late", "minutes", "seconds"),
    ),
    "de": (
        *("bitte", "kann", "können", "darf", "dürfen", "vielleicht", "eventuell"),
        *("wenn möglich", "sicher", "frei", "genug", "erlaubt", "risiko", "spät"),
        *("minuten", "sekunden"),
    ),
}


def softened(language: str, code: str, text: str) -> str | None:
    """Return what is wrong with a company's own words, ``problem | cure``; None if nothing."""
    if len(text) > LONGEST[code]:
        problem = f"{code} has {len(text)} characters, more than fit where it stands"
        return f"{problem} | use at most {LONGEST[code]}"
    for name in PUT_IN.get(code, ()):
        if text.count(name) != 1:
            return f"{name} is not in it once | write {name} where it is to be put in"
    braces = text
    for name in PUT_IN.get(code, ()):
        braces = braces.replace(name, "")
    if set(braces) & set("{}"):
        return "a brace would be shown as it stands | take it out"
    for names in NAMED[language].get(code, ()):
        # In capitals it must stand in capitals: it is read by an eye that looks elsewhere.
        found = text if names[0].isupper() else text.lower()
        if not any(one in found for one in names):
            cure = " or ".join(f"'{one}'" for one in names)
            return f"{code} does not name {cure} | name it; translate, do not soften"
    plain = f" {re.sub(r'[^a-zäöüß]+', ' ', text.lower())} "
    for soft in SOFT[language]:
        if f" {soft} " in plain:
            return f"'{soft}' softens it | say it without; '{FIXED_WORDS[code]}' is meant"
    return None
