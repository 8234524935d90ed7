"""Pages that anybody may read: checks, lessons, guide."""
