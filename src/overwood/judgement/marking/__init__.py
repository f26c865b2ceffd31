"""Which trees stay: the search on a stem map, its wants and bound, and the checks of a marking and of a cut."""
