"""How files are read and written, whatever they hold.

A file appears whole or not at all (`atomic`), one program at a time writes a recording (`file_lock`), settings are TOML
read into frozen values with errors that name file, line and key (`tomlfile`), and settings are found by name or by path
and read again when they were edited (`named_file`). How large an input of each kind may be stands in `limits`.

In come paths and values; out go files and values. What a file means is its owner's business.
May import: `acquire.errors` only.
"""
