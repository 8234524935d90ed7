"""Damp rail: what the weather makes of the railhead, as a suggestion with its reasons.

Nothing here is fetched and nothing is guessed: what was not observed is unknown, and the
suggestion says so. Weather alone never picks a state; a person does.
"""
