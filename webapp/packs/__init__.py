"""Route packs: read a route folder, compute it, write it as immutable files.

``read`` and ``check`` turn files into a frozen ``model.Route`` or a full list of
faults; ``build`` turns a route into a pack; ``lookup`` is the reference of the look-up
which ``static/core/table.js`` repeats in the browser.
"""
