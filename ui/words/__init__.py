"""All sentences, by language, and how numbers and dates are written in it.

The words lie in `ui/data/words`, one folder a language. In come keys and values; out come sentences.
May import: acquire's values; nothing else of this floor.
"""
