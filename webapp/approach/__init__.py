"""One approach with every intermediate figure, to be checked by hand and by others."""
