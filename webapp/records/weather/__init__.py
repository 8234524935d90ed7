"""Weather for the desk: typed values or a file of hourly observations; nothing is fetched."""
