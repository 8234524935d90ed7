"""Keep: one file that holds the whole depot, and how long what is kept is kept."""
