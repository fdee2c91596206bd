"""How examiners work, from the curves of a whole archive.

`archive` measures each trial once (`facts`), `table` holds them as columns, `compare` and `examiners` set each examiner
against the others within the same action and method, `trend` looks along time, `ceilings` and `agreement` at what hands
can hold and at two examiners with the same persons. `archive_audit` puts it together.

In come session files and a protocol; out comes an `Audit`: values, no sentences.
May import: trial, results, statistics, reliability, acquire's storage.
"""
