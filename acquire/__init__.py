"""From bytes on a link to newtons on a time base and trials on disk."""
