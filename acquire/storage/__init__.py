"""What is on disk: session files, journals, measured archives, CSV traces.

`session_file` keeps a session as HDF5 behind a checked head (`seal`), written whole beside its place and renamed;
`journal` is the append-only copy of what a sensor sent; `measured_store` is the cache of an audit; `walk` finds the
session files of an archive; `csv_trace` reads and writes text. The formats are described at the top of the module that
writes them.

What is promised of what comes in and of what is written, how it is tried, and the last figure:

======================================  ====================================================  ======================
promise                                 how it is tried                                       last figure
======================================  ====================================================  ======================
a killed recording loses no finished    `tests/bench/bench_kills.py`: SIGKILL at any instant  7 kills under load: 0
trial, next to nothing of the running   of `record` on a port; `test_killed_recording.py`     finished lost, 30 ms
one                                                                                           at most
the same command goes on after a crash  `tests/ui/commands/test_same_run.py`                  9 cases
any file gives a value or one sentence  `tests/test_fuzzed_readers.py`: 10 readers, a corpus  10,000 files: 1 found,
                                        of what was found                                     mended
a sealed file reads nothing but itself  `test_crafted.py`: external, virtual, linked,         all refused
                                        filtered, doubled, impossible
damage is noticed before HDF5 meets it  `test_refused_file.py`: every bit of a file flipped   all noticed
no input costs more than its limit      `tests/acquire/files/test_costly_inputs.py`           21 settings below 60
                                                                                              MiB
a full disk ends no recording and       `test_full_disk.py`, `test_recorder.py`,              all whole or absent
leaves nothing half written             `test_live.py`
a killed audit leaves no worker         `tests/ui/model/audit/test_workers.py`                0 of 3 processes
a damaged index is made anew            `tests/ui/model/audit/test_index.py`                  4 kinds of damage
what does not fit the profile is said   `tests/acquire/stream/test_stream_fit.py`: noise,     1.5 s; 0 of 21
within 2 s, of what fits nothing        other profiles, other rates; 21 bad links
texts are shown, never obeyed, never a  `tests/ui/commands/test_outside_text.py`              none found
formula
no link brings a sample that was not    `tests/acquire/stream/test_bad_links.py`              said there
sent
======================================  ====================================================  ======================

In come values, out come files, and back. HDF5 is touched here only. May import: values, files.
"""
