"""The one path of a live stream, shared by recording, replay and recovery.

`recorder` runs a link in a thread of its own: bytes go to the journal first, then through `pipeline` (decoder, time
base, calibration) into `ring`, which keeps the last minutes, and `trial_detector`, which finds each effort.
`recovery` plays a journal through the same pipeline after a crash. `lsl` sends force to other programs.

In come chunks of bytes with their time of arrival; out come trials and events. Only `recorder` and `lsl` own a thread.
May import: every room of this floor but discovery.
"""
