"""Published reference values: which row of which table fits a person, and how a force compares with it.

Tables are CSV files with a head that names source, position, method and score (`tables`); `lookup` finds the row that
fits or the first reason why none does; `standing` says where a force lies; `typed_in` helps whoever types one in.

In come a score and a person; out comes a comparison or a reason. May import: results, battery, statistics.
"""
