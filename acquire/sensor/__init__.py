"""What a sensor is: a TOML profile and its calibration file, not a class.

A profile says by which link a sensor is reached, how its data are framed, at what rate it sends, and how counts become
newtons. `profile_text` writes one back as text that a person can edit.

In come TOML files; out come `Profile` and `Calibration`. The profiles that come with the program lie in
`acquire/data/sensors`; every key is explained in `hardware_notes/profiles.md`. May import: values, files.
"""
