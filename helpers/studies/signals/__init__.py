"""From instrument to entry: which range to buy, what is entered for it, reverse or direct, and where a wrong loop comes to rest."""
