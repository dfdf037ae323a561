"""The rules desk: what an edit of the knowledge does, seen before anyone sells by it."""
