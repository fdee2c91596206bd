"""What is on disk: session files, journals, measured archives, CSV traces.

`session_file` keeps a session as HDF5 behind a checked head (`seal`), written whole beside its place and renamed;
`journal` is the append-only copy of what a sensor sent; `measured_store` is the cache of an audit; `walk` finds the
session files of an archive; `csv_trace` reads and writes text. The formats are described at the top of the module that
writes them.

In come values, out come files, and back. HDF5 is touched here only. May import: values, files.
"""
