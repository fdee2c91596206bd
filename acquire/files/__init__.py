"""How files are read and written, whatever they hold.

A file appears whole or not at all (`atomic`), one program at a time owns what it is writing (`file_lock`), and settings
are TOML read into frozen values with errors that name file, line and key (`tomlfile`).

In come paths and values; out go files and values. What a file means is its owner's business.
May import: `acquire.errors` only.
"""
