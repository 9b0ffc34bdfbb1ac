"""terrain: where to stand for a hill above the mist with the sunrise behind it."""
