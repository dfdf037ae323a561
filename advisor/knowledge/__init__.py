"""What the shop knows: fact vocabulary, rules, catalogue and maps, read from one folder, every piece with its place."""
