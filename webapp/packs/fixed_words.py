"""The fixed strings of every tablet, by code, as the operating rules word them.

A company may translate them but not soften them; they travel in the pack so that a
tablet shows the words of the pack it computes with.
"""

FIXED_WORDS = {
    "W1": "Platform stop only. Signals first.",
    "W2": "Begin before {mark}, {step}. If worse: before {worse}. Not above {speeds}.",
    "W3": "safe, clear, OK, covered, enough, permitted, risk, late, minutes, seconds, "
    "per cent",
    "W4": "Sliding: hold the brake. Not slowing as it should: EMERGENCY, hold to a stand.",
    "W5": "Warnings held here {time}. Newer ones: signaller.",
    "W6": "No advice here. Drive to the conditions.",
    "W7": "Saved on this tablet. The signaller does not know. Call now.",
    "W8": "Before you move: signal, doors.",
    "W9": "Rail state {hours} h old: planned as {state}.",
    "W10": "Don't release doors. Don't move. Signaller.",
}
