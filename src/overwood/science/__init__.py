"""Pure functions over numbers and arrays, one room a subject; each equation names its source and its range."""
